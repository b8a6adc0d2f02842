package pacer

import (
	"errors"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"glidepace/sessions"
	"glidepace/sessions/cautions"
	"glidepace/sessions/glides"
)

// Hard limits: what is outside is refused. They are common practice, from memory; a
// clinic may want narrower ones.
const (
	MinRate, MaxRate   = 3.0, 30.0 // breaths per minute
	minPhase, maxPhase = 0.5, 15.0 // inhale and exhale, s
	minMove            = 1.0       // a movement each way, s
	maxTaperStep       = 1.10      // a breath against the one before
	maxLength          = 60 * time.Minute
)

// Bounds of comfort: what is outside is allowed, with a caution.
const (
	comfortMinRate, comfortMaxRate = 4.0, 20.0
	comfortInhale, comfortExhale   = 6.0, 8.0 // s
	comfortMove, slowMove          = 2.0, 8.0 // s each way
	comfortTaperStep               = 1.05
	comfortLength                  = 20 * time.Minute
	comfortPerDay                  = 3
	comfortReps                    = 10
	comfortExercises               = 4
	comfortRaised                  = 2 * time.Minute
)

// slack is a little more than rounding can add up to, so that a value exactly on a
// limit is inside.
const slack = 1e-9

// New lays a session out in time. Where what its values add up to is outside the hard
// limits, the error is a *sessions.Error with every such problem at its place in the
// file.
func New(s *sessions.Session) (*Timeline, error) {
	t := newPlan(s).lay(s.Title, cursor{})
	if problems := refusals(t); len(problems) > 0 {
		return nil, &sessions.Error{Problems: problems}
	}
	return t, nil
}

// AtRest lays out breaths without movement, as in a lead-in. The error names a hard
// limit that they break.
func AtRest(b sessions.Breath, breaths int) (*Timeline, error) {
	t := newPlan(&sessions.Session{Posture: sessions.PostureNone, Breath: b, LeadIn: breaths}).lay("Breathing at rest", cursor{})
	if problems := refusals(t); len(problems) > 0 {
		return nil, errors.New(problems[0].Text)
	}
	return t, nil
}

// findings collects problems, one for each cause, however many steps show it.
type findings struct {
	session *sessions.Session
	seen    map[string]bool
	list    []sessions.Problem
}

func (f *findings) add(path, format string, args ...any) {
	if f.seen[path+format] {
		return
	}
	if f.seen == nil {
		f.seen = map[string]bool{}
	}
	f.seen[path+format] = true
	f.list = append(f.list, sessions.Problem{Place: f.session.Place(path), Text: fmt.Sprintf(format, args...)})
}

// breathPath names the field of the file that the length of a step comes from: the
// given inhale or exhale, or the taper while it runs, or the rate.
func (f *findings) breathPath(s Step) string {
	b := f.session.Breath
	switch {
	case b.Rate == 0 && s.Breath == Inhale:
		return "breath.inhale"
	case b.Rate == 0:
		return "breath.exhale"
	case b.Taper != nil && s.BreathNumber < b.Taper.Breaths:
		return "breath.taper.from"
	}
	return "breath.rate"
}

func refusals(t *Timeline) []sessions.Problem {
	s := t.Session()
	f := &findings{session: s}
	if q := taperStep(s.Breath); beyond(q, maxTaperStep) {
		f.add("breath.taper", "the taper changes each breath by %.1f %%, from %g to %g in %d breaths: at most 10 %% is allowed; %d breaths would do, with at most 5 %% each",
			change(q), s.Breath.Taper.From, s.Breath.Rate, s.Breath.Taper.Breaths, TaperBreaths(s.Breath.Taper.From, s.Breath.Rate))
	}
	t.phases(func(st Step, seconds float64) {
		if seconds < minPhase-slack || seconds > maxPhase+slack {
			f.add(f.breathPath(st), "the %s lasts %s at %.4g breaths a minute: from 0.5 s to 15 s is allowed", st.Breath, secs(seconds), st.Rate)
		}
	})
	for _, st := range t.Steps {
		if st.Breath == Inhale && (st.Rate < MinRate-slack || st.Rate > MaxRate+slack) {
			f.add(f.breathPath(st), "this makes %.6g breaths a minute: from 3 to 30 is allowed", st.Rate)
		}
		if st.moves() && st.Duration < minMove-slack {
			f.add(f.breathPath(st), "the movement (%s) takes %s, at %.4g breaths a minute: 1 s or more each way is allowed; breathe slower or move on the whole exhale",
				st.Move, secs(st.Duration), st.Rate)
		}
	}
	if len(f.list) == 0 && s.Ease.Floor > 0 {
		slowest := t.plan
		slowest.slow = 0
		slowest.lay(t.Title, cursor{}).phases(func(st Step, seconds float64) {
			if seconds > maxPhase+slack {
				f.add("ease.floor", "eased to %.4g breaths a minute, as after symptoms, the %s lasts %s: up to 15 s is allowed; set a higher floor", st.Rate, st.Breath, secs(seconds))
			}
		})
	}
	if Seconds(t.Duration) > maxLength {
		f.add("exercises", "the session lasts %s: up to 60 minutes is allowed", Clock(t.Duration))
	}
	return f.list
}

// Cautions lists what is allowed but needs a clinician's thought: each at its place in
// the session file, with the reason.
func Cautions(t *Timeline) []sessions.Problem {
	s := t.Session()
	f := &findings{session: s}
	cautionBreath(f, t)
	for _, st := range t.Steps {
		switch {
		case !st.moves():
		case st.Duration < comfortMove-slack:
			f.add(f.breathPath(st), "a movement takes %s each way: under 2 s it is easily rushed", secs(st.Duration))
		case st.Duration > slowMove+slack:
			f.add(f.breathPath(st), "a movement takes %s one way: over 8 s it becomes a slow stretch", secs(st.Duration))
		}
	}
	if s.Dose != nil && s.Dose.PerDayMax > comfortPerDay {
		f.add("dose.per_day", "%d sessions a day: more than 3 can irritate a nerve that is meant to settle", s.Dose.PerDayMax)
	}
	if n := len(s.Exercises); n > comfortExercises {
		f.add("exercises", "%d exercises: people do best with 2 to 4", n)
	}
	for i, e := range s.Exercises {
		path := fmt.Sprintf("exercises[%d]", i)
		if e.Reps > comfortReps {
			f.add(path+".reps", "%d repetitions a set: 10 is what a set is usually worked up to", e.Reps)
		}
		at := path + ".glide"
		if e.Own {
			at = path + ".own"
			if words := unwanted(e.Glide); len(words) > 0 {
				f.add(at, "the text says %s: a glide is never held, stretched or forced, and the breath stays soft", strings.Join(words, ", "))
			}
		}
		texts := append(cautions.OfGlide(e.Glide), e.Glide.Review)
		if e.Glide.Neck {
			texts = append(texts, "ask first: "+cautions.AskNeck)
		}
		for _, text := range texts {
			if text != "" {
				f.add(at, "%s: "+strings.ReplaceAll(text, "%", "%%"), e.Glide.Name)
			}
		}
	}
	for _, set := range t.Sets() {
		if set.Raised > comfortRaised.Seconds()+slack {
			f.add(fmt.Sprintf("exercises[%d].reps", set.Exercise-1), "the arm stays raised for %s in a set: over 2 minutes the shoulder tires and rises", Clock(set.Raised))
		}
	}
	if Seconds(t.Duration) > comfortLength {
		f.add("exercises", "the session lasts %s: over 20 minutes is hard to keep up every day", Clock(t.Duration))
	}
	return f.list
}

var unwantedWords = regexp.MustCompile(`(?i)\b((stretch|push|press)(es|ed|ing)?|(pull|strain)(s|ed|ing)?|forc(es?|ed|ing|eful|efully|ibly)|hold(s|ing)?|held|deep(er|ly)?)\b`)

// unwanted returns the words of a glide that ask for what no glide should be, each
// once, in quotes.
func unwanted(g glides.Glide) (words []string) {
	for _, word := range unwantedWords.FindAllString(strings.Join([]string{g.Name, g.Start, g.Out, g.Back}, "\n"), -1) {
		if word = strconv.Quote(strings.ToLower(word)); !slices.Contains(words, word) {
			words = append(words, word)
		}
	}
	return words
}

// Slows reports whether going on after symptoms slows the breath, once any taper is
// over: a rate at or below the floor of easing cannot be slowed.
func (t *Timeline) Slows() bool {
	s := t.Session()
	return s.Ease.Slower > 0 && slices.ContainsFunc(s.Exercises, func(e sessions.Exercise) bool {
		return t.Tempo(e, s.Breath.Match).Rate > s.Ease.Floor+slack
	})
}

func cautionBreath(f *findings, t *Timeline) {
	for _, st := range t.Steps {
		if st.Breath == Inhale && (st.Rate < comfortMinRate-slack || st.Rate > comfortMaxRate+slack) {
			f.add(f.breathPath(st), "%.4g breaths a minute: outside 4 to 20 few people breathe with ease; watch for light-headedness", st.Rate)
		}
	}
	t.phases(func(st Step, seconds float64) {
		switch {
		case st.Breath == Exhale && seconds > comfortExhale+slack:
			f.add(f.breathPath(st), "the exhale lasts %s: over 8 s many people run out of breath", secs(seconds))
		case st.Breath == Inhale && seconds > comfortInhale+slack:
			f.add(f.breathPath(st), "the inhale lasts %s: over 6 s many people breathe too deeply", secs(seconds))
		}
	})
	if ease := f.session.Ease; ease.Slower > 0 && !t.Slows() {
		rate, left := t.Tempo(f.session.Exercises[0], f.session.Breath.Match).Rate, "smaller, and fewer"
		if ease.FewerReps == 0 {
			left = "smaller"
		}
		path := "breath.rate"
		if f.session.Breath.Rate == 0 {
			path = "breath.inhale"
		}
		f.add(path, "%.4g breaths a minute is at or under the floor of easing, %g: after symptoms it cannot go slower, only %s", rate, ease.Floor, left)
	}
	taper := f.session.Breath.Taper
	if taper == nil {
		return
	}
	if q := taperStep(f.session.Breath); beyond(q, comfortTaperStep) {
		f.add("breath.taper", "each breath of the taper differs from the one before by %.1f %%: over 5 %% the patient may notice the step; %d breaths would do",
			change(q), TaperBreaths(taper.From, f.session.Breath.Rate))
	}
	switch last := t.lastBreath(); {
	case taper.Breaths > last+1:
		f.add("breath.taper.breaths", "the taper takes %d breaths and the session has %d: the rate of %g a minute is never reached", taper.Breaths, last+1, f.session.Breath.Rate)
	case taper.Breaths > f.session.LeadIn:
		f.add("breath.taper.breaths", "the taper takes %d breaths and the lead-in has %d: the rate still changes while the arm moves", taper.Breaths, f.session.LeadIn)
	}
}

// phases calls visit for each inhale and exhale, with its first step and its whole
// length: in breath-per-rep a phase runs through several steps.
func (t *Timeline) phases(visit func(first Step, seconds float64)) {
	for i := 0; i < len(t.Steps); {
		first := t.Steps[i]
		seconds := first.Duration
		for i++; i < len(t.Steps) && t.FlowsOn(i); i++ {
			seconds += t.Steps[i].Duration
		}
		if first.Breath == Inhale || first.Breath == Exhale {
			visit(first, seconds)
		}
	}
}

// lastBreath returns the highest number of a paced breath, -1 without any.
func (t *Timeline) lastBreath() int {
	for i := len(t.Steps) - 1; i >= 0; i-- {
		if n := t.Steps[i].BreathNumber; n >= 0 {
			return n
		}
	}
	return -1
}

// moves reports whether the arm moves in the step.
func (s Step) moves() bool { return s.Move == Glide || s.Move == Return }

// beyond reports whether the ratio q of two breaths is beyond limit, either way.
func beyond(q, limit float64) bool { return q > limit+slack || q < 1/limit-slack }

// TaperBreaths returns how many breaths a taper between two rates must have so that no
// breath differs from the one before by more than 5 %.
func TaperBreaths(from, to float64) int {
	return int(math.Ceil(math.Abs(math.Log(from/to))/math.Log(comfortTaperStep) - slack))
}

// change returns by how many percent the longer of two breaths is longer, where q is
// their ratio.
func change(q float64) float64 { return 100 * (max(q, 1/q) - 1) }

func secs(s float64) string { return fmt.Sprintf("%.4g s", s) }

// Clock writes a length such as 2:05, from an hour on such as 1:02:05, rounded to the
// second.
func Clock(seconds float64) string {
	n := int(math.Round(seconds))
	if n < 3600 {
		return fmt.Sprintf("%d:%02d", n/60, n%60)
	}
	return fmt.Sprintf("%d:%02d:%02d", n/3600, n/60%60, n%60)
}
