package main

import (
	"context"
	"fmt"
	"io"
	"strings"

	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sounds"
	"glidepace/sounds/voice"
)

// soundReport is what check says of how a session sounds.
type soundReport struct {
	Parts  []string `json:"parts"`
	Volume int      `json:"volume"`
	Said   int      `json:"words_said"`
	// LeftOut are the words that there is no time for.
	LeftOut []leftOut `json:"words_left_out"`
	Notes   []string  `json:"notes,omitempty"`
}

// leftOut is a cue that is not said, in one or more places.
type leftOut struct {
	voice.Cue
	Times int     `json:"times"`
	First float64 `json:"first_s"` // seconds from the start
}

// newSoundReport loads the voice of the named session file and places it in t.
func newSoundReport(ctx context.Context, file string, t *pacer.Timeline, errs io.Writer) (soundReport, error) {
	how, notes, err := (&soundFlags{volume: -1}).settings(ctx, file, t.Session(), errs)
	r := soundReport{Parts: partWords(how.Parts), Volume: how.Volume, LeftOut: []leftOut{}, Notes: notes}
	if err != nil || how.Voice == nil {
		return r, err
	}
	p := how.Voice.Place(t, sounds.Tail.Seconds())
	r.Said = len(p.Said)
	place := map[voice.Cue]int{}
	for _, l := range p.Left {
		i, known := place[l.Cue]
		if !known {
			i = len(r.LeftOut)
			place[l.Cue] = i
			r.LeftOut = append(r.LeftOut, leftOut{Cue: l.Cue, First: l.At})
		}
		r.LeftOut[i].Times++
	}
	return r, nil
}

func partWords(p sessions.Parts) []string {
	words := []string{}
	for i, on := range []bool{p.Tones, p.Ticks, p.Voice} {
		if on {
			words = append(words, sessions.PartNames[i])
		}
	}
	return words
}

func (r soundReport) write(p *printer) {
	p.field("sound", fmt.Sprintf("%s; volume %d", strings.Join(r.Parts, ", "), r.Volume))
	for _, n := range r.Notes {
		p.field("voice", n)
	}
	if r.Said > 0 {
		p.field("voice", fmt.Sprintf("speaks %s", count(r.Said, "time")))
	}
	var left []string
	for _, l := range r.LeftOut {
		where := "at " + pacer.Clock(l.First)
		if l.Times > 1 {
			where = fmt.Sprintf("%d times from %s on", l.Times, pacer.Clock(l.First))
		}
		left = append(left, fmt.Sprintf("%q %s", strings.TrimSuffix(l.Text, "."), where))
	}
	if len(left) > 0 {
		p.field("no time to say", strings.Join(left, "; "))
	}
}
