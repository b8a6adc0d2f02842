package patient

import (
	"fmt"
	"slices"
	"strings"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/devices/screen/scene"
	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/cautions"
	"glidepace/sessions/history"
	"glidepace/sessions/progress"
)

// DailyLines is how many lines the daily start of a session may take, its
// questions included.
const DailyLines = 10

// Briefing is today's session and what the patient is told about it.
type Briefing struct {
	*pacer.Timeline
	Level   pacer.Level
	Changes []string // what differs from the prescription, in a sentence each

	standing string // which session of the dose it is; "" without a dose
	why      string // why it has this level, then a colon and the outlook; may be ""
	less     bool   // less than prescribed
}

// Wish is what the command line changes in today's session.
type Wish struct {
	AsPrescribed bool   // the whole session, whatever the rules say
	Match        string // how to match breath and movement; "" for the file's way
	NoNeck       bool   // leave the neck glide out
}

// NewBriefing lays out today's session by the rules, the diary and the wish.
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
	b.standing = history.Standing(s.Dose, past.Day, past.DoneToday)
	b.Timeline, err = pacer.NewAt(matched, b.Level)
	return b, err
}

// newCautions lists the cautions that come with matching a session another way.
func newCautions(prescribed *pacer.Timeline, matched *sessions.Session) (list []string) {
	t, err := pacer.New(matched)
	if err != nil {
		return nil // cannot be: Rematch stays inside the limits
	}
	before := pacer.Cautions(prescribed)
	for _, c := range pacer.Cautions(t) {
		if !slices.Contains(before, c) {
			list = append(list, "Take care: "+c.Text+".")
		}
	}
	return list
}

// daily is for a patient who knows the session. It has at most so many lines, and
// leaves out the rest, which a key shows. The cautions that come before every
// session are not counted.
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

// first is for the first session of a prescription, with all cautions.
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
	keysInFull  = "Keys: Enter stops at once, for tingling, pain or anything that worries you; space pauses, and goes on again; n: enough for this set; q ends the session."
	neckKey     = "Dizzy or faint, or trouble with sight, speech or swallowing: press d. It ends the session."
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

// Everything is all that there is to read before a session.
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
					if c != cautions.NeckGlide() { // it has a list of its own
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

// beware writes the cautions of the glides in this session, and the key for a
// warning sign. If chosen is not nil, it writes only those of the chosen exercises.
func (b Briefing) beware(p *console.Printer, chosen func(sessions.Exercise) bool) {
	var told []string
	for _, e := range b.exercises() {
		for _, c := range cautions.OfGlide(e.Glide) {
			if (chosen == nil || chosen(e)) && !slices.Contains(told, c) {
				told = append(told, c)
				if c != cautions.NeckGlide() { // it names its glide
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

// exercises are the exercises that today's session has.
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
			continue // the other side is alike
		}
		told = g.Exercise
		e := b.Session().Exercises[told-1]
		side := e.Side.String()
		if e.Side == sessions.Both {
			side = "right, then left"
		}
		if far := scene.HowFar(e.Range); far != "" {
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

// numbers is contents without the glides' titles, for a small window.
func (b Briefing) numbers() string {
	return fmt.Sprintf("%s in all. %s in %s.", pacer.Clock(b.Duration),
		sessions.Count(b.Repetitions, "repetition"), sessions.Count(len(b.exercises()), "exercise"))
}

// watch lists what to watch for when the glides are new.
func (b Briefing) watch(width int) []string {
	return console.Lines(width, func(p *console.Printer) {
		for _, e := range b.exercises() {
			if len(e.Glide.Watch) > 0 {
				p.List(cautions.List{Title: "Watch in " + e.Glide.Title, Items: e.Glide.Watch})
			}
		}
	})
}

// expectation says what the patient will hear, and how breath and movement go
// together.
func expectation(m sessions.Match) string {
	together := "Breathe in at rest, out while the arm glides, in again while it comes back."
	if m == sessions.BreathPerRep {
		together = "Move out and back while you breathe out, and the next time while you breathe in. Let the breath flow all the time."
	}
	return "What to expect: a tone rises while you breathe in and falls while you breathe out. One soft tick means that the movement goes out, two that it comes back. " + together
}

// DescribeMovement says how fast the movement goes.
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
