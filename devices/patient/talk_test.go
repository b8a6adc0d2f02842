package patient

import (
	"context"
	"errors"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/diary"
	"glidepace/sessions/history"
	"glidepace/sessions/progress"
	"glidepace/sessions/sessionstest"
)

// person answers what is written down, and then nothing more.
type person struct {
	Person // is never called
	keys   string
	rating sessions.Ratings
	told   []string // what was said, after "!" where it was urged and "?" where it was asked
}

func (p *person) There() bool                { return true }
func (p *person) Say(text string)            { p.told = append(p.told, text) }
func (p *person) Urge(text string)           { p.told = append(p.told, "! "+text) }
func (p *person) Afterwards(context.Context) {}
func (p *person) ask(text string)            { p.told = append(p.told, "? "+text) }
func (p *person) Rate(context.Context) (sessions.Ratings, error) {
	p.ask("ratings")
	return p.rating, nil
}

func (p *person) Choose(_ context.Context, q Question) (rune, error) {
	p.ask(q.Text)
	if p.keys == "" {
		return 0, errors.New("no answer")
	}
	key := rune(p.keys[0])
	p.keys = p.keys[1:]
	if !slices.ContainsFunc(q.Choices, func(c Choice) bool { return c.Key == key }) {
		return 0, errors.New("that is no answer")
	}
	return key, nil
}

// want wants the person to have been told so many things, each with these words.
func (p *person) want(t *testing.T, name string, words ...string) {
	t.Helper()
	mark := func(text string) bool { return strings.HasPrefix(text, "? ") || strings.HasPrefix(text, "! ") }
	same := func(told, words string) bool { return strings.Contains(told, words) && mark(told) == mark(words) }
	if !slices.EqualFunc(p.told, words, same) || p.keys != "" {
		t.Errorf("%s: told\n%s\nwant\n%s\nanswers left: %q", name, strings.Join(p.told, "\n"), strings.Join(words, "\n"), p.keys)
	}
}

const wristFile = `{glidepace: 1, title: T, breath: {rate: 6}, exercises: [{glide: median-wrist, side: right, reps: 4}]}`

// With a neck glide; onlyNeck has nothing else.
const (
	neckFile = `{glidepace: 1, title: T, breath: {rate: 6}, exercises: [{glide: median-neck, side: right, reps: 2}, {glide: median-wrist, side: right, reps: 2}]}`
	onlyNeck = `{glidepace: 1, title: T, breath: {rate: 6}, exercises: [{glide: median-neck, side: right, reps: 2}]}`
)

func TestGateAsks(t *testing.T) {
	const (
		clinician, rest, back, neck, done, soon, morning = progress.AskClinician, progress.RestToday, progress.NotBackYet,
			progress.NeckShut, progress.NoneDue, progress.TooSoon, progress.AskMorning
		all, isBack, worse = " Begin all the same?", "Is everything back to where it was?", "Still worse the morning after"
		noNeck             = "No neck glide until your clinician has cleared it. Then say so."
	)
	type kinds []progress.HurdleKind
	for _, c := range []struct {
		name, file string
		against    kinds
		keys       string
		begins     bool
		pass       Passage
		told       []string
	}{
		{"rest, yes", wristFile, kinds{rest}, "y", true, Passage{Extra: true}, []string{"? The session today was stopped. Your clinician's plan is to rest until tomorrow." + all}},
		{"rest, no", wristFile, kinds{rest}, "n", false, Passage{}, []string{"? T", "Not begun."}},
		{"rest, Enter", wristFile, kinds{rest}, "\n", false, Passage{}, []string{"? T", "Not begun."}},
		{"back, yes", wristFile, kinds{back}, "y", true, Passage{}, []string{"? The last session was stopped. " + isBack}},
		{"back, no", wristFile, kinds{back}, "n", false, Passage{}, []string{"? T", "Not begun. Rest, and tell your clinician."}},
		{"back, no answer", wristFile, kinds{back}, "", false, Passage{}, []string{"? T", "Not begun."}},
		{"neck, yes", neckFile, kinds{neck}, "y", true, Passage{NoNeck: true}, []string{"? A session was stopped for a warning sign. " + noNeck + " Do the other exercises without it?"}},
		{"neck, no", neckFile, kinds{neck}, "n", false, Passage{}, []string{"? A", "Not begun."}},
		{"neck alone", onlyNeck, kinds{neck}, "", false, Passage{}, []string{"Not begun. A session was stopped for a warning sign. " + noNeck}},
		{"none due and too soon: one question", wristFile, kinds{done, soon}, "y", true, Passage{Extra: true}, []string{"? " + all}},
		{"too soon is within the dose", wristFile, kinds{soon}, "y", true, Passage{}, []string{"? " + all}},
		{"worse", wristFile, kinds{morning}, "y", true, Passage{morningAfter: "a", morning: sessions.Worse}, []string{"? " + worse, "Tell your clinician about it."}},
		{"not worse", wristFile, kinds{morning}, "n", true, Passage{morningAfter: "a", morning: sessions.NotWorse}, []string{"? " + worse}},
		{"not known", wristFile, kinds{morning}, "\n", true, Passage{}, []string{"? " + worse}},
		{"hard sessions: no question", wristFile, kinds{clinician, back}, "y", true, Passage{}, []string{"Several sessions in a row were stopped, cut short or uncomfortable. Speak to your clinician before you do another.", "? T"}},
	} {
		p := &person{keys: c.keys}
		talk := &Talk{Person: p, ThenCleared: "Then say so."}
		var list []progress.Hurdle
		for _, k := range c.against {
			list = append(list, progress.Hurdle{Kind: k, Entry: progress.Entry{ID: "a"}})
		}
		pass, err := talk.hurdles(t.Context(), sessionstest.Parse(t, c.file), list, time.Date(2026, 12, 1, 8, 0, 0, 0, time.UTC))
		if (err == nil) != c.begins || c.begins && pass != c.pass {
			t.Errorf("%s: %+v, %v; want %+v, begins %v", c.name, pass, err, c.pass, c.begins)
		}
		p.want(t, c.name, c.told...)
	}
}

func ratings(tingling, pain int) sessions.Ratings {
	return sessions.Ratings{Tingling: &tingling, Pain: &pain}
}

// Strong is 8 or more: from memory.
func TestStrongBefore(t *testing.T) {
	const strong = "? That is strong today. Rest, and tell your clinician if it stays."
	for _, c := range []struct {
		name   string
		rating sessions.Ratings
		keys   string
		begins bool
		told   []string
	}{
		{"7", ratings(7, 7), "", true, nil},
		{"tingling 8, yes", ratings(8, 0), "y", true, []string{strong}},
		{"pain 8, no", ratings(0, 8), "n", false, []string{strong, "Not begun."}},
		{"both, Enter", ratings(10, 9), "\n", false, []string{strong, "Not begun."}},
		{"skipped", sessions.Ratings{}, "", true, nil},
	} {
		p := &person{keys: c.keys, rating: c.rating}
		_, err := (&Talk{Person: p}).RateBefore(t.Context())
		if (err == nil) != c.begins {
			t.Errorf("%s: %v, want begins %v", c.name, err, c.begins)
		}
		p.want(t, c.name, append([]string{"? ratings"}, c.told...)...)
	}
}

// What is said and asked after a session, and what of it the diary has.
func TestAfterASession(t *testing.T) {
	const (
		done, early, stopped = "Done: 1 of 4 repetitions in 1:00.", "Ended early: 1 of 4 repetitions in 1:00.", "Stopped: 1 of 4 repetitions in 1:00."
		enough               = stopped + " Let the arm hang and loosen it. That is enough for today: tell your clinician if it does not settle."
		rate, kept           = "? ratings", "It is in the diary."
		what, head           = "? What was it?", "? Was it the head?"
		hang, isBack         = "Let the arm hang. It should be back to where it was within", "? Back to where it was?"
		pain                 = "! Stop for today. Tell your clinician."
		breath               = "! Sit down and breathe as you like, softly. Chest pain, or breathlessness that stays: call emergency services. Tell your clinician if it does not pass or comes again."
		warning              = "! Sit down. Trouble with sight, speech or swallowing, or a faint: call emergency services now. No neck glide until your clinician has cleared it."
		much                 = "That is much more than before. Stop for today, and tell your clinician."
	)
	before, same := ratings(2, 1), ratings(2, 1)
	type result struct {
		outcome sessions.Outcome
		by      sessions.Symptom
		settled string // yes, no, or "" where it was not timed
	}
	ended := func(a pacer.Answer) pacer.Result { return pacer.Result{Outcome: sessions.Symptoms, Answer: a} }
	completed, left := pacer.Result{Outcome: sessions.Completed}, pacer.Result{Outcome: sessions.EndedEarly}
	quiet := result{outcome: sessions.Completed}
	for _, c := range []struct {
		name, file string
		paced      pacer.Result
		after      sessions.Ratings
		keys       string
		want       result
		told       []string
	}{
		{"as before", wristFile, completed, same, "", quiet, []string{done, rate, kept}},
		{"not rated", wristFile, completed, sessions.Ratings{}, "", quiet, []string{done, rate, "Sessions without ratings do not count toward doing more."}},
		{"up 1, back", wristFile, completed, ratings(3, 1), "y", result{sessions.Completed, "", "yes"}, []string{done, rate, hang, isBack, "Back after 0:00.", kept}},
		{"up 1, not yet, then back", wristFile, completed, ratings(3, 1), "ny", result{sessions.Completed, "", "yes"}, []string{done, rate, hang, isBack, "0:00 of 2:00 have passed.", isBack, "Back after 0:00.", kept}},
		{"up 1, not yet, then not timed", wristFile, completed, ratings(3, 1), "nq", result{sessions.Completed, "", "no"}, []string{done, rate, hang, isBack, "0:00 of 2:00 have passed.", isBack, kept}},
		{"up 1, not yet, then no answer", wristFile, completed, ratings(3, 1), "n", result{sessions.Completed, "", "no"}, []string{done, rate, hang, isBack, "0:00 of 2:00 have passed.", isBack, kept}},
		{"up 1, not yet, and it is late", wristFile, completed, ratings(2, 2), "n", result{sessions.Completed, "", "no"}, []string{done, rate, hang, isBack, "Tell your clinician before the next session.", kept}},
		{"up 1, not timed", wristFile, completed, ratings(3, 1), "q", quiet, []string{done, rate, hang, isBack, kept}},
		{"tingling up 3", wristFile, completed, ratings(5, 1), "q", quiet, []string{done, rate, much, hang, isBack, kept}},
		{"pain up 3", wristFile, completed, ratings(2, 4), "q", quiet, []string{done, rate, much, hang, isBack, kept}},
		{"back, but late", wristFile, completed, ratings(3, 1), "y", result{sessions.Completed, "", "yes"}, []string{done, rate, hang, isBack, "Back after 0:00.", "That took long. Tell your clinician.", kept}},

		{"pain", wristFile, ended(pacer.Pain), same, "", result{sessions.Symptoms, sessions.Pain, ""}, []string{stopped + " Stop for today. Tell your clinician.", rate, kept}},
		{"breath", wristFile, ended(pacer.Breathing), same, "", result{sessions.Symptoms, sessions.Breathing, ""}, []string{breath, stopped, kept}},
		{"a warning sign", neckFile, ended(pacer.WarningSign), same, "", result{sessions.Symptoms, sessions.WarningSign, ""}, []string{warning, stopped, kept}},
		{"not settled", wristFile, ended(pacer.Still), same, "t", result{sessions.Symptoms, sessions.Tingling, ""},
			[]string{stopped + " It should have settled by now. Stop for today and tell your clinician.", what, rate, kept}},
		{"nobody answered", wristFile, ended(pacer.NoAnswer), same, "", result{sessions.Symptoms, sessions.NotSaid, ""},
			[]string{stopped + " It should have settled by now. Stop for today and tell your clinician.", what, rate, kept}},

		{"left: tingling", wristFile, ended(pacer.Left), same, "t", result{sessions.Symptoms, sessions.Tingling, ""}, []string{enough, what, rate, kept}},
		{"left: pain", wristFile, ended(pacer.Left), same, "p", result{sessions.Symptoms, sessions.Pain, ""}, []string{enough, what, pain, rate, kept}},
		{"left: breath", wristFile, ended(pacer.Left), same, "b", result{sessions.Symptoms, sessions.Breathing, ""}, []string{enough, what, breath, kept}},
		{"too often: a warning sign", neckFile, ended(pacer.TooOften), same, "d", result{sessions.Symptoms, sessions.WarningSign, ""}, []string{enough, what, warning, kept}},
		{"left: none of these", wristFile, ended(pacer.Left), same, "x", result{sessions.EndedEarly, "", ""}, []string{enough, what, rate, kept}},
		{"left: a warning sign of no neck glide", wristFile, ended(pacer.Left), same, "d", result{sessions.Symptoms, sessions.NotSaid, ""}, []string{enough, what, rate, kept}},

		{"ended early", wristFile, left, same, "", result{outcome: sessions.EndedEarly}, []string{early, rate, kept}},
		{"ended early: the head", neckFile, left, same, "d", result{sessions.Symptoms, sessions.WarningSign, ""}, []string{early, head, warning, kept}},
		{"ended early: not the head", neckFile, left, same, "x", result{outcome: sessions.EndedEarly}, []string{early, head, rate, kept}},
	} {
		tl, err := pacer.New(sessionstest.Parse(t, c.file))
		if err != nil {
			t.Fatal(err)
		}
		path := filepath.Join(t.TempDir(), "diary.db")
		entry := history.NewSession(tl, time.Now(), tl.Session().Hash(), "", false)
		entry.Before = before
		record := history.NewWriter(diary.Options{}, path, tl, entry, func(err error) { t.Fatal(err) })
		tell := func(e pacer.Event) {
			e.Timeline, e.At, e.Done = tl, time.Now(), pacer.Done{Repetitions: 1}
			record.Follow(e)
		}
		tell(pacer.Event{Kind: pacer.Began})
		if c.paced.Outcome == sessions.Symptoms {
			set := slices.IndexFunc(tl.Steps, pacer.Step.InSet)
			tell(pacer.Event{Kind: pacer.Stopped, Step: set})
			tell(pacer.Event{Kind: pacer.Answered, Step: set, Answer: c.paced.Answer})
		}
		tell(pacer.Event{Kind: pacer.Ended, Outcome: c.paced.Outcome})
		if strings.HasSuffix(c.name, "late") {
			record.SettleWithin = 0
		}
		c.paced.Done.Repetitions, c.paced.Length = 1, time.Minute

		p := &person{keys: c.keys, rating: c.after}
		outcome := (&Talk{Person: p, Diary: path}).Close(t.Context(), Briefing{Timeline: tl, less: true}, c.paced, false, record, &entry)
		p.want(t, c.name, c.told...)
		d, err := diary.OpenExisting(path)
		if err != nil {
			t.Fatal(err)
		}
		for e, err := range d.Each(diary.Filter{}) {
			got := result{outcome: e.Outcome, by: e.EndedBy}
			if e.Settling != nil {
				got.settled = map[bool]string{true: "yes", false: "no"}[e.Settling.Settled]
			}
			rated := slices.Contains(c.told, rate) && !c.after.IsZero()
			if err != nil || got != c.want || outcome != c.want.outcome || e.After.IsZero() == rated {
				t.Errorf("%s: %v, %+v, rated %v; want %+v, rated %v (%v)", c.name, outcome, got, !e.After.IsZero(), c.want, rated, err)
			}
		}
		d.Close()
	}
}
