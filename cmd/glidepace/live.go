package main

import (
	"context"
	"fmt"
	"strings"
	"sync"
	"time"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/devices/screen"
	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/diary"
	"glidepace/sounds"
)

// session runs the session itself, and writes it into the diary as the entry
// begins: nil is for one that is kept nowhere.
func (p *paceRun) session(ctx context.Context, t *pacer.Timeline, entry *diary.Session) error {
	live, cancel := context.WithCancel(ctx)
	defer cancel()

	notes := p.notes
	buzz, closeBuzzer, err := p.openBuzzer(notes)
	if err != nil {
		return err
	}
	defer closeBuzzer()

	commands := make(chan pacer.Command)
	c := &pacer.Conductor{}
	if buzz != nil {
		c.Followers = append(c.Followers, buzz)
	}
	if p.output.Name() == "off" {
		c.Sound = sounds.NewLive(p.output, p.how, 0)
	} else {
		c.Sound = sounds.NewLive(p.output, p.how, time.Duration(p.offset)*time.Millisecond)
		c.Tail = sounds.Tail
	}
	stage, err := p.openStage(live, commands, notes)
	if err != nil {
		return err
	}
	defer stage.close()
	c.Followers = append(c.Followers, stage)
	var b *book
	if entry != nil {
		entry.Sound = p.output.Name()
		b = newBook(diary.Options{}, p.diary, t, *entry, func(err error) { notes.Add("%v", p.withCure(err)) })
		c.Followers = append(c.Followers, b)
	}
	p.watch.begin(stage, b)
	result := c.Run(live, t, commands)
	cancel()
	stage.close()
	notes.Show()
	words := doneWords(t, result)
	switch advice := screen.ClosingAdvice(result.Outcome, result.Answer); {
	case stage.parted:
	case unwell(result.Answer): // what to do comes first
		words = advice + "\n" + words
	default:
		words += " " + advice
	}
	for line := range strings.SplitSeq(words, "\n") {
		p.say(line)
	}
	if b != nil {
		var after sessions.Ratings
		result.Outcome, after = p.after(ctx, b, result, entry.Before, t.Neck())
		if lost := b.close(); lost != nil {
			fmt.Fprintf(p.errs, "glidepace: %v\nPlease write this down:\n%s", p.withCure(lost), lost.Session)
		} else {
			p.farewell(t.Session(), entry.Started, result.Outcome, entry.Before.Whole() && after.Whole())
		}
	}
	switch result.Outcome {
	case sessions.EndedEarly:
		return console.ExitError(console.ExitEarly)
	case sessions.Symptoms:
		return console.ExitError(console.ExitSymptoms)
	}
	return nil
}

// doneWords says in one line what was done.
func doneWords(t *pacer.Timeline, r pacer.Result) string {
	lead := map[sessions.Outcome]string{sessions.Completed: "Done", sessions.EndedEarly: "Ended early", sessions.Symptoms: "Stopped"}[r.Outcome]
	return fmt.Sprintf("%s: %d of %s in %s.",
		lead, r.Done.Repetitions, sessions.Count(t.Repetitions, "repetition"), pacer.Clock(r.Length.Seconds()))
}

// soundWatch tells, while a session runs, that its sound is lost or back: on
// the screen and in the diary.
type soundWatch struct {
	mu    sync.Mutex
	stage *stage // nil before the session begins
	book  *book  // nil for a session that is kept nowhere
	lost  bool   // or was never there
}

func (w *soundWatch) begin(s *stage, b *book) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.stage, w.book = s, b
	if w.lost && s != nil {
		go s.note("No sound: watch the screen.")
	}
}

func (w *soundWatch) changed(notes *console.Notes, lost error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	text, kind := "", diary.SoundBack
	w.lost = lost != nil
	if lost != nil {
		text, kind = "The sound is lost: watch the screen.", diary.SoundLost
		notes.Add("the sound is lost: %v; the session goes on", lost)
	} else {
		notes.Add("the sound is back")
	}
	if w.stage != nil {
		w.stage.note(text)
	}
	if w.book != nil {
		w.book.sound(kind)
	}
}
