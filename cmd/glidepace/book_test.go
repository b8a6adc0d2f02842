package main

import (
	"path/filepath"
	"strings"
	"testing"
	"time"

	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/diary"
)

// The sound tells of its end while the conductor tells of the session: the
// book hears both at once. The race detector sees whether it bears that.
func TestBookHearsSoundAndSessionAtOnce(t *testing.T) {
	s, err := sessions.Parse("test.yaml", strings.NewReader("{glidepace: 1, title: T, breath: {rate: 6}, exercises: [{glide: median-wrist, side: left, reps: 3}]}"))
	if err != nil {
		t.Fatal(err)
	}
	tl, err := pacer.New(s)
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "diary.db")
	b := newBook(diary.Options{}, path, tl, newEntry(tl, time.Now(), s.Hash(), "", false), func(err error) { t.Error(err) })
	told := make(chan struct{})
	go func() {
		defer close(told)
		b.sound(diary.SoundLost)
		b.ended.since()
	}()
	b.Follow(pacer.Event{Kind: pacer.Began, Timeline: tl, At: time.Now()})
	b.Follow(pacer.Event{Kind: pacer.Ended, Timeline: tl, At: time.Now(), Outcome: sessions.Completed})
	<-told
	if lost := b.close(); lost != nil {
		t.Fatal(lost)
	}
}
