package main

import (
	"context"
	"fmt"
	"os"
	"os/signal"
	"syscall"

	"golang.org/x/term"

	"glidepace/devices/screen"
	"glidepace/pacer"
	"glidepace/sessions/diary"
	"glidepace/sounds"
	"glidepace/sounds/out"
)

// intent is what the diary is to say of a session that is about to begin.
type intent struct {
	entry  diary.Session
	before diary.Ratings
}

// session runs the session itself, and writes it into the diary: nil is for
// one that is kept nowhere.
func (p *paceRun) session(ctx context.Context, t *pacer.Timeline, in *intent) error {
	signal.Ignore(syscall.SIGPIPE) // a reader of the lines may go; the session does not
	live, cancel := context.WithCancel(ctx)
	defer cancel()

	notes := &notes{w: p.err}
	output, err := out.Open(p.sound, func(lost error) {
		if lost != nil {
			notes.add("the sound is lost: %v; the session goes on", lost)
		} else {
			notes.add("the sound is back")
		}
	})
	if err != nil {
		notes.add("%v; the session goes on without it", err)
	}
	defer output.Close()

	commands := make(chan pacer.Command)
	c := &pacer.Conductor{Sound: sounds.NewLive(output, p.volume)}
	if output.Name() != "off" {
		c.Tail = sounds.Tail
	}
	show, err := p.openScreen(live, c, commands, notes)
	if err != nil {
		return err
	}
	var b *book
	if in != nil {
		in.entry.Sound = output.Name()
		b = p.openBook(t, in, notes)
		c.Followers = append(c.Followers, b)
	}
	result := c.Run(live, t, commands)
	cancel()
	show.close()
	notes.show()
	words := doneWords(t, result)
	if !show.parted {
		words += " " + screen.Parting(result.Outcome, result.Answer)
	}
	fmt.Fprintln(p.out, words)
	if b != nil {
		if p.asks() && ctx.Err() == nil {
			p.rateAfter(ctx, b, in.before)
		}
		p.closeBook(b)
	}
	switch result.Outcome {
	case pacer.EndedEarly:
		return exitError(exitEarly)
	case pacer.Symptoms:
		return exitError(exitSymptoms)
	}
	return nil
}

// doneWords says in one line what was done.
func doneWords(t *pacer.Timeline, r pacer.Result) string {
	lead := map[pacer.Outcome]string{pacer.Completed: "Done", pacer.EndedEarly: "Ended early", pacer.Symptoms: "Stopped"}[r.Outcome]
	return fmt.Sprintf("%s: %d of %s in %s.",
		lead, r.Done.Repetitions, count(t.Repetitions, "repetition"), pacer.Clock(r.Length.Seconds()))
}

// shown is an open screen, or none.
type shown struct {
	close  func()
	parted bool // it has said the last words
}

// openScreen opens the screen that is asked for and lets it follow c.
func (p *paceRun) openScreen(ctx context.Context, c *pacer.Conductor, commands chan<- pacer.Command, notes *notes) (shown, error) {
	way := p.screen
	if way == "auto" {
		way = "lines"
		if isTerminal(p.in) && isTerminal(p.out) && os.Getenv("TERM") != "dumb" {
			way = "full"
		}
	}
	if way == "full" {
		full := screen.NewFull(p.in, p.out, os.Getenv("NO_COLOR") == "", commands)
		c.Followers = append(c.Followers, full)
		notes.hold()
		ctx, cancel := context.WithCancel(ctx)
		over := make(chan error, 1)
		go func() { over <- full.Run(ctx) }()
		return shown{close: func() {
			cancel()
			if err := <-over; err != nil {
				notes.add("%v", err)
			}
		}}, nil
	}
	if way == "lines" {
		c.Followers = append(c.Followers, screen.NewLines(p.out))
	}
	keys, err := screen.NewKeys(p.in, commands)
	if err != nil {
		return shown{}, err
	}
	return shown{func() { keys.Close() }, way == "lines"}, nil
}

func isTerminal(stream any) bool {
	f, ok := stream.(*os.File)
	return ok && term.IsTerminal(int(f.Fd()))
}
