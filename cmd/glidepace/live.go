package main

import (
	"context"
	"fmt"
	"sync"
	"time"

	"glidepace/devices/screen"
	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/diary"
	"glidepace/sounds"
	"glidepace/sounds/out"
)

// intent is what the diary is to say of a session that is about to begin.
type intent struct {
	entry  diary.Session
	before sessions.Ratings
}

// session runs the session itself, and writes it into the diary: nil is for
// one that is kept nowhere.
func (p *paceRun) session(ctx context.Context, t *pacer.Timeline, in *intent) error {
	live, cancel := context.WithCancel(ctx)
	defer cancel()

	notes := &notes{w: p.errs}
	var heard soundWatch
	output, err := out.Open(p.sound, func(lost error) {
		// The sound must not wait for a terminal that takes no output.
		go heard.changed(notes, lost)
	})
	silent := err != nil
	if silent {
		notes.add("%v; the session goes on without it", err)
	}
	defer output.Close()

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
	if output.Name() == "off" {
		c.Sound = sounds.NewLive(output, p.how, 0)
	} else {
		c.Sound = sounds.NewLive(output, p.how, time.Duration(p.offset)*time.Millisecond)
		c.Tail = sounds.Tail
	}
	stage, err := p.openStage(live, commands, notes)
	if err != nil {
		return err
	}
	defer stage.close()
	if silent {
		go stage.note("No sound: watch the screen.")
	}
	c.Followers = append(c.Followers, stage)
	var b *book
	if in != nil {
		in.entry.Sound = output.Name()
		in.entry.Before = in.before
		b = newBook(diary.Options{}, p.diary, t, in.entry, func(err error) { notes.add("%v", err) })
		c.Followers = append(c.Followers, b)
	}
	heard.begin(stage, b)
	result := c.Run(live, t, commands)
	cancel()
	stage.close()
	notes.show()
	words := doneWords(t, result)
	if !stage.parted {
		words += " " + screen.Parting(result.Outcome, result.Answer)
	}
	newPrinter(p.out).wrap("", words)
	if b != nil {
		if result.Answer == pacer.TooOften && isTerminal(p.in) && ctx.Err() == nil {
			p.askSymptom(ctx, b)
		}
		if p.asks() && ctx.Err() == nil {
			p.rateAfter(ctx, b, in.before)
		}
		if lost := b.close(); lost != nil {
			fmt.Fprintf(p.errs, "glidepace: %v\nPlease write this down:\n%s", lost, lost.Session)
		}
	}
	switch result.Outcome {
	case sessions.EndedEarly:
		return exitError(exitEarly)
	case sessions.Symptoms:
		return exitError(exitSymptoms)
	}
	return nil
}

// doneWords says in one line what was done.
func doneWords(t *pacer.Timeline, r pacer.Result) string {
	lead := map[sessions.Outcome]string{sessions.Completed: "Done", sessions.EndedEarly: "Ended early", sessions.Symptoms: "Stopped"}[r.Outcome]
	return fmt.Sprintf("%s: %d of %s in %s.",
		lead, r.Done.Repetitions, count(t.Repetitions, "repetition"), pacer.Clock(r.Length.Seconds()))
}

// soundWatch tells, while a session runs, that its sound is lost or back: on
// the screen and in the diary.
type soundWatch struct {
	mu    sync.Mutex
	stage *stage
	book  *book // nil for a session that is kept nowhere
}

func (w *soundWatch) begin(s *stage, b *book) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.stage, w.book = s, b
}

func (w *soundWatch) changed(notes *notes, lost error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	text, kind := "", diary.SoundBack
	if lost != nil {
		text, kind = "The sound is lost: watch the screen.", diary.SoundLost
		notes.add("the sound is lost: %v; the session goes on", lost)
	} else {
		notes.add("the sound is back")
	}
	if w.stage != nil {
		w.stage.note(text)
	}
	if w.book != nil {
		w.book.sound(kind)
	}
}
