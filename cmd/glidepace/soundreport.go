package main

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/cmd/glidepace/internal/live"
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
	// LeftOut are the words for which there is no time.
	LeftOut []leftOut `json:"words_left_out"`
	Notes   []string  `json:"notes,omitempty"`
}

// leftOut is a cue that is not said, in one or more places.
type leftOut struct {
	voice.Cue
	Times int     `json:"times"`
	First float64 `json:"first_s"` // seconds from the start
	// SetUp is how long a set-up must be to say it, in seconds; 0 if none is long enough.
	SetUp float64 `json:"set_up_s,omitempty"`
	// Movement is set where it says the movement.
	Movement bool `json:"movement,omitempty"`
}

// newSoundReport places the words of the named session file in t.
func newSoundReport(ctx context.Context, file string, t *pacer.Timeline) (soundReport, error) {
	s := t.Session()
	r := soundReport{Parts: partWords(s.Sounds.Parts), Volume: s.Sounds.Volume, LeftOut: []leftOut{}}
	if !s.Sounds.Parts.Voice {
		return r, nil
	}
	words, notes, err := live.TimeVoice(ctx, file, s)
	if r.Notes = notes; err != nil {
		return r, err
	}
	p := words.Schedule(t, sounds.Tail.Seconds())
	r.Said = len(p.Said)
	place := map[voice.Cue]int{}
	for _, l := range p.LeftOut {
		i, known := place[l.Cue]
		if !known {
			i = len(r.LeftOut)
			place[l.Cue] = i
			r.LeftOut = append(r.LeftOut, leftOut{Cue: l.Cue, First: l.At, Movement: l.Move})
		}
		r.LeftOut[i].Times++
		r.LeftOut[i].SetUp = max(r.LeftOut[i].SetUp, math.Ceil(l.SetUp))
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

func (r soundReport) write(p *console.Printer) {
	p.Field("sound", fmt.Sprintf("%s; volume %d", strings.Join(r.Parts, ", "), r.Volume))
	for _, n := range r.Notes {
		p.Field("voice", n)
	}
	if r.Said > 0 {
		p.Field("voice", fmt.Sprintf("speaks %s", sessions.Count(r.Said, "time")))
	}
	if left := r.leftOut(); left != "" {
		p.Field("no time to say", left)
	}
}

// writeLeftOut writes in a line how much there is no time to say, and what would help.
func (r soundReport) writeLeftOut(p *console.Printer) {
	for _, n := range r.Notes {
		p.Field("voice", n)
	}
	left, setUp, curable := 0, 0.0, 0
	for _, l := range r.LeftOut {
		left += l.Times
		if l.SetUp > 0 {
			setUp = max(setUp, l.SetUp)
			curable += l.Times
		}
	}
	text := fmt.Sprintf("no time for %d of %s: ", left, sessions.Count(r.Said+left, "cue"))
	switch curable {
	case 0:
		text += "only a slower breath gives more"
	case left:
		text += fmt.Sprintf("give a set_up of %.0fs", setUp)
	default:
		text += fmt.Sprintf("a set_up of %.0fs gives time for %d, a slower breath for more", setUp, curable)
	}
	if left > 0 {
		p.Field("voice", text)
	}
}

// leftOut says in a line what there is no time for, and what would help.
func (r soundReport) leftOut() string {
	var before, texts []string // the sets; and in the steps, movements first
	setUp, times, first := 0.0, 0, 0.0
	for _, l := range r.LeftOut {
		if l.SetUp == 0 {
			if times == 0 {
				first = l.First
			}
			times += l.Times
			at := len(texts)
			if l.Movement {
				at = 0
			}
			texts = slices.Insert(texts, at, fmt.Sprintf("%q", strings.TrimSuffix(l.Text, ".")))
			continue
		}
		what := "all of the start position"
		if l.Caution() {
			what = "when to stop"
		}
		if !slices.Contains(before, what) {
			before = append(before, what)
		}
		setUp = max(setUp, l.SetUp)
	}
	var parts []string
	if len(before) > 0 {
		parts = append(parts, fmt.Sprintf("%s (a set-up of %.0fs is enough)", strings.Join(before, " and "), setUp))
	}
	if len(texts) > 0 {
		what := texts[0]
		if more := len(texts) - 1; more > 0 {
			what += fmt.Sprintf(" and %d more", more)
		}
		parts = append(parts, fmt.Sprintf("%s, %s from %s on (the pace is too fast for it)", what, sessions.Count(times, "time"), pacer.Clock(first)))
	}
	return strings.Join(parts, "; ")
}
