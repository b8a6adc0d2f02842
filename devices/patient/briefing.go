package patient

import (
	"fmt"
	"slices"
	"strings"

	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/cautions"
	"glidepace/sessions/history"
	"glidepace/sessions/progress"
)

// Steering says how the patient steers the session, in sentences.
type Steering struct {
	Brief, Full string
	Neck        string // how to report a warning sign of the neck glide
}

// Briefing is today's session and what the patient is told about it.
type Briefing struct {
	*pacer.Timeline
	Level   pacer.Level
	Changes []string // what differs from the prescription, in a sentence each
	Keys    Steering

	Standing string // which session of the dose it is; "" without a dose
	Why      string // why it has this level, then a colon and the outlook; may be ""
	less     bool   // less than prescribed
}

// Wish is what somebody wants different in today's session.
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
		b.Level, b.Why = a.Level, a.Why
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
	b.Standing = history.Standing(s.Dose, past.Day, past.DoneToday)
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

// Daily is for a patient who knows the session: what may be said in less and less
// room, the longest first, and then what is said in any case.
func (b Briefing) Daily() (versions []Text, always Text) {
	head := b.Title
	if b.Standing != "" {
		head += ". " + b.Standing + "."
	}
	now, _, outlook := strings.Cut(b.Why, ": ")
	if outlook {
		now += "."
	}
	for _, contents := range []string{b.contents(), b.numbers()} {
		for _, why := range []string{b.Why, now} {
			var t Text
			for _, text := range append([]string{head, contents, why}, b.Changes...) {
				t.say(text)
			}
			t.say(cautions.InBrief)
			t.say(b.Keys.Brief)
			versions = append(versions, t)
		}
	}
	b.beware(&always, func(e sessions.Exercise) bool { return e.Glide.Neck || e.Own })
	return versions, always
}

// First is for the first session of a prescription, with all cautions.
func (b Briefing) First() (t Text) {
	b.head(&t)
	for _, e := range b.Exercises() {
		if e.Note != "" {
			t.say(e.Glide.Title + ": " + e.Note)
		}
	}
	t.gap()
	t.say(expectation(b.Session().Breath.Match))
	t.gap()
	t.list(cautions.List{Title: "Take care", Items: append(slices.Clone(cautions.BeforeSession), cautions.Volume)})
	b.beware(&t, nil)
	t.say(cautions.Deference)
	t.gap()
	t.say(b.Keys.Full)
	return t
}

// head says what the session is.
func (b Briefing) head(t *Text) {
	t.say(b.Title)
	if b.Standing != "" {
		t.say(b.Standing + ".")
	}
	for _, text := range append([]string{b.contents(), b.Why}, b.Changes...) {
		t.say(text)
	}
}

// Everything is all that there is to read before a session.
func (b Briefing) Everything() (t Text) {
	b.head(&t)
	if n := b.Session().LeadIn; n > 0 {
		t.say(fmt.Sprintf("First %s at rest.", sessions.Count(n, "breath")))
	}
	shown := map[string]bool{}
	for _, e := range b.Exercises() {
		if shown[e.Glide.Name] {
			t.field("note", e.Note)
			continue
		}
		shown[e.Glide.Name] = true
		t.gap()
		t = append(t, Movement(e)...)
	}
	t.gap()
	t.say(expectation(b.Session().Breath.Match))
	t.gap()
	t.say(b.Keys.Full)
	if b.Neck() {
		t.say(b.Keys.Neck)
	}
	for _, l := range cautions.Everything(b.Neck()) {
		t.gap()
		t.list(l)
	}
	t.gap()
	t.say(cautions.Deference)
	return t
}

// Movement is all that there is to read about an exercise.
func Movement(e sessions.Exercise) (t Text) {
	g := e.Glide
	t.say(g.Title)
	t.posture(g.Posture)
	t.field("start", g.Start)
	t.field("out", g.Out)
	t.field("back", g.Back)
	if len(g.Watch) > 0 {
		t = append(t, Block{Label: "watch", Items: g.Watch})
	}
	for _, c := range cautions.OfGlide(g) {
		if c != cautions.NeckGlide() { // it has a list of its own
			t.field("take care", c)
		}
	}
	t.field("note", e.Note)
	return t
}

// beware says the cautions of the glides in this session, and how to report a
// warning sign. If chosen is not nil, it says only those of the chosen exercises.
func (b Briefing) beware(t *Text, chosen func(sessions.Exercise) bool) {
	var told []string
	for _, e := range b.Exercises() {
		for _, c := range cautions.OfGlide(e.Glide) {
			if (chosen == nil || chosen(e)) && !slices.Contains(told, c) {
				told = append(told, c)
				if c != cautions.NeckGlide() { // it names its glide
					c = e.Glide.Title + ": " + c
				}
				t.say(c)
			}
		}
	}
	if b.Neck() {
		t.say(b.Keys.Neck)
	}
}

// Exercises are the exercises that today's session has.
func (b Briefing) Exercises() (list []sessions.Exercise) {
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
		if far := e.Range.HowFar(); far != "" {
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
		sessions.Count(b.Repetitions, "repetition"), sessions.Count(len(b.Exercises()), "exercise"))
}

// Watch lists what to watch for when the glides are new.
func (b Briefing) Watch() (t Text) {
	for _, e := range b.Exercises() {
		if len(e.Glide.Watch) > 0 {
			t.list(cautions.List{Title: "Watch in " + e.Glide.Title, Items: e.Glide.Watch})
		}
	}
	return t
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
