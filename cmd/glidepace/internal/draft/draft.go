// Package draft writes a new session file from a few answers. Answers are kept as they
// are typed, right or wrong: the file that they make is read by the parser of all
// session files, so there is one set of limits, and one set of words for what is wrong.
package draft

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"glidepace/sessions"
	"glidepace/sessions/glides"
)

// Answers make a session file. An empty one leaves its key out where the key is
// optional.
type Answers struct {
	Title, Patient       string // without a title one is made from the glides
	Exercises            []Exercise
	PerDay, Weeks, Start string
	Rate, Ratio, Pause   string
	LeadIn, RepsFrom     string
}

// Exercise is the answers for one glide.
type Exercise struct{ Glide, Side, Sets, Reps string }

// Usual has the usual answers: 10 repetitions, 1 to 3 sessions a day, 6 to 8 weeks and a
// pause under a second are common practice, without a source. At 8 breaths a minute and
// a ratio of 1:1.5 the movement takes 4.2 s out and 2.8 s back. Nothing is usual for the
// glide and the side.
func Usual() Answers {
	return Answers{PerDay: "2", Weeks: "6", Rate: "8", Ratio: "1:1.5", Pause: "0.5s", LeadIn: "3", Exercises: []Exercise{UsualExercise()}}
}

// UsualExercise is an exercise of Usual.
func UsualExercise() Exercise { return Exercise{Sets: "1", Reps: "10"} }

// Text returns the session file.
func (a Answers) Text() string {
	var b strings.Builder
	line := func(text, comment string) { fmt.Fprintf(&b, "%-35s # %s\n", text, comment) }
	optional := func(key, answer, example, comment string) {
		if strings.TrimSpace(answer) == "" {
			key, answer, comment = "# "+key, example, "optional: "+comment
		}
		line(key+": "+scalar(answer), comment)
	}
	line("glidepace: 1", "the version of this format")
	fmt.Fprintf(&b, "# What the patient reads at the top of the session; never a name.\ntitle: %s\n", strconv.Quote(a.title()))
	optional("patient", a.Patient, "K-204", "the clinic's own code, never a name")
	b.WriteString("dose:\n")
	line("  per_day: "+scalar(a.PerDay), `sessions a day, or a range such as "1-3"`)
	line("  weeks: "+scalar(a.Weeks), "length of the course")
	optional("  start", a.Start, "2026-12-01", "first day of the course")
	b.WriteString("breath:\n")
	line("  rate: "+scalar(a.Rate), "breaths a minute; one breath is one repetition")
	line("  ratio: "+strconv.Quote(strings.TrimSpace(a.Ratio)), "inhale to exhale")
	line("  pause: "+scalar(a.Pause), "the turn of the movement: under 1s, never a hold")
	line("lead_in: {breaths: "+scalar(a.LeadIn)+"}", "breaths at rest before the first movement")
	b.WriteString("exercises:\n")
	for _, e := range a.Exercises {
		line("  - glide: "+scalar(e.Glide), "the movement")
		line("    side: "+scalar(e.Side), "right, left, or both: right, then left")
		line("    sets: "+scalar(e.Sets), "how often the set is done, 30s of rest between")
		line("    reps: "+scalar(e.Reps), "repetitions a set")
	}
	line("ease: {slower: 20%, fewer_reps: 2}", "after symptoms: slower, and with fewer repetitions")
	if a.RepsFrom == "" {
		line("# progress: {reps_from: 5}", "optional: begin with 5 repetitions and work up")
	} else {
		line("progress: {reps_from: "+scalar(a.RepsFrom)+"}", "repetitions to begin with, and to work up from")
	}
	return b.String()
}

// title is the given title, or says what is done: "Wrist glide for the median nerve,
// right".
func (a Answers) title() string {
	if a.Title != "" {
		return a.Title
	}
	first := a.Exercises[0]
	g, _ := glides.Find(first.Glide)
	text := g.Title + ", " + first.Side
	if first.Side == sessions.Both.String() {
		text += " sides"
	}
	if more := len(a.Exercises) - 1; more > 0 {
		text += fmt.Sprintf(", and %d more", more)
	}
	return text
}

// FileName suggests a name for the file: the patient code, the first glide and its
// side.
func (a Answers) FileName() string {
	first := a.Exercises[0]
	name := first.Glide + "-" + first.Side + ".yaml"
	if a.Patient != "" {
		name = a.Patient + "-" + name
	}
	return name
}

var plain = regexp.MustCompile(`^([A-Za-z0-9][A-Za-z0-9.%-]*)?$`)

// scalar writes an answer as a single value of YAML, whatever was typed.
func scalar(answer string) string {
	answer = strings.TrimSpace(answer)
	if plain.MatchString(answer) {
		return answer
	}
	return strconv.Quote(answer)
}
