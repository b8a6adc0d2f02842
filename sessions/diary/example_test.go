package diary_test

import (
	"context"
	"errors"
	"fmt"
	"log"
	"os"
	"path/filepath"
	"time"

	"glidepace/sessions"
	"glidepace/sessions/diary"
)

// A live session tells a recorder what happens; what cannot be written comes
// back at the end.
func ExampleOptions_Record() {
	dir, err := os.MkdirTemp("", "diary")
	if err != nil {
		log.Fatal(err)
	}
	defer os.RemoveAll(dir)
	path := filepath.Join(dir, "diary.db")
	started := time.Date(2026, 12, 1, 8, 30, 0, 0, time.FixedZone("", 3600))

	r := diary.Options{}.Record(path, diary.Session{
		Title: "First week, right hand", Patient: "K-204", Started: started,
		Planned: diary.Amount{Sets: 1, Repetitions: 1, Breaths: 2},
	}, 2*time.Second, func(err error) { fmt.Println("The diary fails, the session goes on:", err) })
	r.Event(diary.Event{At: 25 * time.Second, Kind: diary.Repetition, Exercise: 1, Side: "right", Set: 1, Rep: 1,
		Done: diary.Amount{Repetitions: 1, Breaths: 2}})
	r.End(diary.Ending{When: started.Add(25 * time.Second), At: 25 * time.Second, Outcome: sessions.Completed,
		Done: diary.Amount{Sets: 1, Repetitions: 1, Breaths: 2}})

	if lost, ok := errors.AsType[*diary.UnwrittenError](r.Close(context.Background())); ok {
		fmt.Printf("%v\nPlease write this down:\n%v", lost, lost.Session)
	}

	d, err := diary.OpenExisting(path)
	if err != nil {
		log.Fatal(err)
	}
	defer d.Close()
	n, err := d.CountOn("2026-12-01", diary.Key{Patient: "K-204"})
	fmt.Println(n, err)
	// Output: 1 <nil>
}
