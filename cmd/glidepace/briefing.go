package main

import (
	"fmt"
	"io"
	"strings"

	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/cautions"
	"glidepace/sessions/glides"
)

// writeBriefing tells what a session is before it begins. The cautions come
// in full where the prescription was not done before, else in one line.
func writeBriefing(w io.Writer, t *pacer.Timeline, st standing, known bool) error {
	s := t.Session()
	p := newPrinter(w)
	p.line("%s", s.Title)
	if st.words != "" {
		p.line("%s.", st.words)
	}
	p.wrap("", pacer.Clock(t.Duration)+" in all: "+strings.Join(contents(s), "; ")+".")
	p.line("")
	var shown glides.Posture
	for _, e := range s.Exercises {
		if q := e.Glide.Posture; q != (glides.Posture{}) && q != shown {
			p.line("Take your place for %s:", e.Glide.Name)
			p.posture(q)
			shown = q
		}
		if e.Note != "" {
			p.wrap("", "Note for "+e.Glide.Name+": "+e.Note)
		}
	}
	p.line("")
	p.wrap("", expectation(s.Breath.Match))
	p.line("")
	if p.err != nil {
		return p.err
	}
	if known {
		p.wrap("", cautions.InBrief)
		return p.err
	}
	return writeCautions(w)
}

func writeCautions(w io.Writer) error {
	p := newPrinter(w)
	p.line("Take care:")
	for _, c := range append(cautions.BeforeSession, cautions.Volume) {
		p.wrap("- ", c)
	}
	p.wrap("", cautions.Deference)
	p.line("")
	return p.err
}

// contents names what a session holds, in order.
func contents(s *sessions.Session) []string {
	var list []string
	if s.LeadIn > 0 {
		list = append(list, count(s.LeadIn, "breath")+" at rest")
	}
	for _, e := range s.Exercises {
		side := e.Side.String()
		if e.Side == sessions.Both {
			side = "right and left"
		}
		sets := ""
		if e.Sets > 1 {
			sets = count(e.Sets, "set") + " of "
		}
		list = append(list, fmt.Sprintf("%s %s, %s%s", side, e.Glide.Name, sets, count(e.Reps, "repetition")))
	}
	return list
}

// expectation says how breath and movement go together.
func expectation(m sessions.Match) string {
	if m == sessions.BreathPerRep {
		return "What to expect: a soft tick at each turn of the movement and a tone for each half of the breath. " +
			"Move out and back on one breath out, the next time on one breath in, and let the breath flow all the while."
	}
	return "What to expect: a soft tick at each turn of the movement and a tone for each half of the breath. " +
		"Breathe in at rest, out while the arm glides, in again while it comes back."
}
