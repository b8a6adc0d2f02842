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

// writeBriefing tells what a session is before it begins, with a line each for
// what is special about it. The cautions come in full where the prescription
// was not done before, else in one line.
func writeBriefing(w io.Writer, t *pacer.Timeline, st standing, special []string, known bool) error {
	s := t.Session()
	p := newPrinter(w)
	p.line("%s", s.Title)
	if st.words != "" {
		p.line("%s.", st.words)
	}
	p.wrap("", pacer.Clock(t.Duration)+" in all: "+strings.Join(contents(t), "; ")+".")
	for _, text := range special {
		p.wrap("", text)
	}
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
	p.wrap("", "Keys: Enter stops at once, for tingling, pain or anything that worries you; space pauses and goes on; n is enough for this set; q ends the session.")
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

// writeWatch writes what to watch for in a glide.
func writeWatch(w io.Writer, g glides.Glide) error {
	p := newPrinter(w)
	p.line("Watch in %s:", g.Name)
	for _, text := range g.Watch {
		p.wrap("- ", text)
	}
	p.line("")
	return p.err
}

// contents names what a session holds, in order.
func contents(t *pacer.Timeline) []string {
	var list []string
	if n := t.Session().LeadIn; n > 0 {
		list = append(list, count(n, "breath")+" at rest")
	}
	for _, s := range setGroups(pacer.Sets(t)) {
		sets := ""
		if n := len(s.lengths); n > 1 {
			sets = count(n, "set") + " of "
		}
		list = append(list, fmt.Sprintf("%s %s, %s%s", s.Side, s.Glide, sets, count(s.Reps, "repetition")))
	}
	return list
}

// setGroup is the sets of one exercise and side; they are alike.
type setGroup struct {
	pacer.SetSummary          // of the first
	lengths          []string // of each
}

func setGroups(sets []pacer.SetSummary) (groups []setGroup) {
	for _, s := range sets {
		if n := len(groups); n > 0 && groups[n-1].Exercise == s.Exercise && groups[n-1].Side == s.Side {
			groups[n-1].lengths = append(groups[n-1].lengths, pacer.Clock(s.Length))
			continue
		}
		groups = append(groups, setGroup{s, []string{pacer.Clock(s.Length)}})
	}
	return groups
}

// expectation says what is heard, and how breath and movement go together.
func expectation(m sessions.Match) string {
	together := "Breathe in at rest, out while the arm glides, in again while it comes back."
	if m == sessions.BreathPerRep {
		together = "Move out and back on one breath out, the next time on one breath in, and let the breath flow all the while."
	}
	return "What to expect: a tone that rises while you breathe in and falls while you breathe out; one soft tick as the movement goes out, two as it comes back. " + together
}
