package patient

import (
	"fmt"
	"slices"
	"strings"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/devices/screen"
	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/cautions"
	"glidepace/sessions/history"
	"glidepace/sessions/progress"
)

// DailyLines is how many lines the start of a session takes that is done daily,
// its questions included.
const DailyLines = 10

// Briefing is what a person is told of a session before it begins.
type Briefing struct {
	*pacer.Timeline
	standing string   // in the dose, "" where there is none
	why      string   // it is what it is today, with the outlook behind a colon; "" where it is not said
	Changes  []string // in a sentence each: what else is not as prescribed
	Level    pacer.Level
	less     bool // than what is prescribed
}

// Wish is what was asked for in place of what the file and the rules say.
type Wish struct {
	AsPrescribed bool   // the whole session, whatever the rules make of today
	Match        string // match breath and movement this way; "" for the file's
	NoNeck       bool   // leave the neck glide out
}

// NewBriefing lays out today's session: at the level that the diary makes it,
// matched as was asked for.
func NewBriefing(prescribed *pacer.Timeline, past history.Past, w Wish) (b Briefing, err error) {
	s := prescribed.Session()
	b.Level = pacer.Prescribed(s)
	if !w.AsPrescribed {
		a := progress.Today(s, past.Entries, past.Day)
		b.Level, b.why = a.Level, a.Why
		b.less = b.Level != pacer.Prescribed(s)
	}
	if b.Level.NoNeck = w.NoNeck; w.NoNeck {
		b.Changes = append(b.Changes, "The neck glide is left out.")
	}
	matched := past.Posture(s)
	if w.Match != "" {
		m := sessions.ExhaleOnGlide
		if w.Match == sessions.BreathPerRep.String() {
			m = sessions.BreathPerRep
		}
		if matched, err = pacer.Rematch(matched, m); err != nil {
			return b, err
		}
		tempo := pacer.TempoOf(matched, matched.Exercises[0], m)
		b.Changes = append(b.Changes, fmt.Sprintf("For this session %s: %.3g breaths a minute, %s.", m, tempo.Rate, DescribeMovement(tempo)))
		b.Changes = append(b.Changes, newCautions(prescribed, matched)...)
	}
	b.standing = history.Standing(s.Dose, past.Day, past.DoneToday) // what is beyond it, the gate has said
	b.Timeline, err = pacer.NewAt(matched, b.Level)
	return b, err
}

// newCautions lists what wants care in a session that was matched the other
// way and did not before.
func newCautions(prescribed *pacer.Timeline, matched *sessions.Session) (list []string) {
	t, err := pacer.New(matched)
	if err != nil {
		return nil // Rematch gives what is inside the limits
	}
	before := pacer.Cautions(prescribed)
	for _, c := range pacer.Cautions(t) {
		if !slices.Contains(before, c) {
			list = append(list, "Take care: "+c.Text+".")
		}
	}
	return list
}

// daily is told to who knows the session, in at most so many lines where that
// can be: the rest is behind a key. What is told before every session comes on
// top of it.
func (b Briefing) daily(width, most int) []string {
	head := b.Title
	if b.standing != "" {
		head += ". " + b.standing + "."
	}
	now, _, outlook := strings.Cut(b.why, ": ")
	if outlook {
		now += "."
	}
	var list []string
	for _, contents := range []string{b.contents(), b.numbers()} {
		for _, why := range []string{b.why, now} {
			if list != nil && len(list) <= most {
				continue
			}
			shorter := console.Lines(width, func(p *console.Printer) {
				for _, text := range append([]string{head, contents, why}, b.Changes...) {
					p.Sentence(text)
				}
				p.Sentence(cautions.InBrief)
				p.Sentence(keysInBrief)
			})
			if list == nil || len(shorter) < len(list) {
				list = shorter
			}
		}
	}
	return append(list, console.Lines(width, func(p *console.Printer) {
		b.beware(p, func(e sessions.Exercise) bool { return e.Glide.Neck || e.Own })
	})...)
}

// first is told before a prescription is done for the first time: with all
// that is to be taken care of in it.
func (b Briefing) first(width int) []string {
	return console.Lines(width, func(p *console.Printer) {
		b.head(p)
		for _, e := range b.exercises() {
			if e.Note != "" {
				p.Wrap("", e.Glide.Title+": "+e.Note)
			}
		}
		p.Line("")
		p.Wrap("", expectation(b.Session().Breath.Match))
		p.Line("")
		p.List(cautions.List{Title: "Take care", Items: append(slices.Clone(cautions.BeforeSession), cautions.Volume)})
		b.beware(p, nil)
		p.Wrap("", cautions.Deference)
		p.Line("")
		p.Wrap("", keysInFull)
	})
}

const (
	keysInBrief = "Enter stops at once; space pauses; n: enough for this set; q ends the session."
	keysInFull  = "Keys: Enter stops at once, for tingling, pain or anything that worries you; space pauses and goes on; n is enough for this set; q ends the session."
	neckKey     = "d is the key for what the head may bring: dizzy or faint, trouble with sight, speech or swallowing. It ends the session."
)

// head says what the session is.
func (b Briefing) head(p *console.Printer) {
	p.Sentence(b.Title)
	if b.standing != "" {
		p.Sentence(b.standing + ".")
	}
	for _, text := range append([]string{b.contents(), b.why}, b.Changes...) {
		p.Sentence(text)
	}
}

// Everything is all that there is to know beforehand.
func (b Briefing) Everything(width int) []string {
	return console.Lines(width, func(p *console.Printer) {
		b.head(p)
		if n := b.Session().LeadIn; n > 0 {
			p.Line("First %s at rest.", sessions.Count(n, "breath"))
		}
		shown := map[string]bool{}
		for _, e := range b.exercises() {
			g := e.Glide
			if !shown[g.Name] {
				p.Line("")
				p.Line("%s", g.Title)
				p.Posture(g.Posture)
				p.Field("start", g.Start)
				p.Field("out", g.Out)
				p.Field("back", g.Back)
				label := "watch"
				for _, text := range g.Watch {
					p.Field(label, text)
					label = ""
				}
				for _, c := range cautions.OfGlide(g) {
					if c != cautions.NeckGlide() { // which stands in a list of its own
						p.Field("take care", c)
					}
				}
				shown[g.Name] = true
			}
			p.Field("note", e.Note)
		}
		p.Line("")
		p.Wrap("", expectation(b.Session().Breath.Match))
		p.Line("")
		p.Wrap("", keysInFull)
		if b.Neck() {
			p.Wrap("", neckKey)
		}
		for _, l := range cautions.Everything(b.Neck()) {
			p.Line("")
			p.List(l)
		}
		p.Line("")
		p.Wrap("", cautions.Deference)
	})
}

// beware writes what is told before a session with the glides that are in it,
// of those chosen (nil: of all), and the key for what the head's may do.
func (b Briefing) beware(p *console.Printer, chosen func(sessions.Exercise) bool) {
	var told []string
	for _, e := range b.exercises() {
		for _, c := range cautions.OfGlide(e.Glide) {
			if (chosen == nil || chosen(e)) && !slices.Contains(told, c) {
				told = append(told, c)
				if c != cautions.NeckGlide() { // which says what it is about
					c = e.Glide.Title + ": " + c
				}
				p.Wrap("", c)
			}
		}
	}
	if b.Neck() {
		p.Wrap("", neckKey)
	}
}

// exercises are those that are done.
func (b Briefing) exercises() (list []sessions.Exercise) {
	done := map[int]bool{}
	for _, s := range b.Timeline.Sets() {
		if !done[s.Exercise] {
			done[s.Exercise] = true
			list = append(list, b.Session().Exercises[s.Exercise-1])
		}
	}
	return list
}

// contents says how long the session is and which glides are in it.
func (b Briefing) contents() string {
	text := pacer.Clock(b.Duration) + " in all."
	told := 0 // number of the exercise
	for _, g := range pacer.GroupSets(b.Timeline.Sets()) {
		if g.Exercise == told {
			continue // the other side, which is alike
		}
		told = g.Exercise
		e := b.Session().Exercises[told-1]
		side := e.Side.String()
		if e.Side == sessions.Both {
			side = "right, then left"
		}
		if far := screen.HowFar(e.Range); far != "" {
			side += ", " + far
		}
		amount := sessions.Count(g.Reps, "repetition")
		if n := len(g.Lengths); n > 1 {
			amount = fmt.Sprintf("%s of %d", sessions.Count(n, "set"), g.Reps)
		}
		text += fmt.Sprintf(" %s, %s: %s.", e.Glide.Title, side, amount)
	}
	return text
}

// numbers is contents for where there is no room for the glides' titles.
func (b Briefing) numbers() string {
	return fmt.Sprintf("%s in all. %s in %s.", pacer.Clock(b.Duration),
		sessions.Count(b.Repetitions, "repetition"), sessions.Count(len(b.exercises()), "exercise"))
}

// watch lists what to watch for while learning the glides.
func (b Briefing) watch(width int) []string {
	return console.Lines(width, func(p *console.Printer) {
		for _, e := range b.exercises() {
			if len(e.Glide.Watch) > 0 {
				p.List(cautions.List{Title: "Watch in " + e.Glide.Title, Items: e.Glide.Watch})
			}
		}
	})
}

// expectation says what is heard, and how breath and movement go together.
func expectation(m sessions.Match) string {
	together := "Breathe in at rest, out while the arm glides, in again while it comes back."
	if m == sessions.BreathPerRep {
		together = "Move out and back on one breath out, the next time on one breath in, and let the breath flow all the while."
	}
	return "What to expect: a tone that rises while you breathe in and falls while you breathe out; one soft tick as the movement goes out, two as it comes back. " + together
}

func DescribeMovement(t pacer.Tempo) string {
	speed := fmt.Sprintf("%.3g s out, %.3g s back", t.OutSeconds, t.BackSeconds)
	if t.InhaleSeconds > 0 {
		speed = fmt.Sprintf("%.3g s each way", t.OutSeconds)
		if t.InhaleSeconds != t.OutSeconds {
			speed += fmt.Sprintf(" (%.3g s on an inhale)", t.InhaleSeconds)
		}
	}
	return fmt.Sprintf("%.4g repetitions a minute, %s", t.RepsPerMin, speed)
}
