package diary

import (
	"encoding/json"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"glidepace/sessions"
)

// stopped is a stop of a step: in the lead-in where rep is negative, in a
// set-up, a shake or the first inhale of a set where it is 0.
func stopped(rep int, detail string) Event {
	e := Event{At: 9 * time.Second, Kind: Stopped, Exercise: 1, Side: "right", Set: 1, Rep: rep, Detail: detail}
	if rep < 0 {
		e.Exercise, e.Side, e.Set, e.Rep = 0, "", 0, 0
	}
	return e
}

func answer(reply string, felt sessions.Symptom) Event {
	return Event{}.With(Answer{Reply: reply, Symptom: felt, After: 30})
}

func TestStopsOfASession(t *testing.T) {
	stop, outside, old := stopped(2, encode(Stopping{true})), stopped(0, encode(Stopping{false})), stopped(2, "")
	enough := Event{Kind: Enough, Exercise: 1, Side: "right", Set: 1, Rep: 2}
	for name, c := range map[string]struct {
		outcome   sessions.Outcome
		events    []Event
		stops     string // without a space: in a set
		worst     sessions.Symptom
		endedBy   sessions.Symptom
		notInTime bool
	}{
		"none":                         {sessions.Completed, nil, "", "", "", false},
		"settled":                      {sessions.Completed, []Event{stop, answer("settled", sessions.NotSaid)}, "not said!", sessions.NotSaid, "", false},
		"only a pause":                 {sessions.Completed, []Event{stop, answer(onlyPause, "")}, "", "", "", false},
		"outside a set":                {sessions.Completed, []Event{outside, answer("settled", sessions.NotSaid)}, "not said", sessions.NotSaid, "", false},
		"pain":                         {sessions.Symptoms, []Event{stop, answer("pain", sessions.Pain)}, "pain!", sessions.Pain, sessions.Pain, false},
		"breathing":                    {sessions.Symptoms, []Event{stop, answer("breathing", sessions.Breathing)}, "breathing!", sessions.Breathing, sessions.Breathing, false},
		"a warning sign":               {sessions.Symptoms, []Event{stop, answer("warning-sign", sessions.WarningSign)}, "warning sign!", sessions.WarningSign, sessions.WarningSign, false},
		"left":                         {sessions.Symptoms, []Event{stop, answer("quit", sessions.NotSaid)}, "not said!", sessions.NotSaid, sessions.NotSaid, false},
		"no answer yet":                {"", []Event{stop}, "not said!", sessions.NotSaid, "", false},
		"cut off at a stop":            {sessions.Interrupted, []Event{outside}, "not said", sessions.NotSaid, "", false},
		"still there":                  {sessions.Symptoms, []Event{stop, answer(stillThere, sessions.NotSaid)}, "not said!", sessions.NotSaid, sessions.NotSaid, true},
		"nobody answered":              {sessions.Symptoms, []Event{stop, answer(noReply, sessions.NotSaid)}, "not said!", sessions.NotSaid, sessions.NotSaid, true},
		"settled, then too often":      {sessions.Symptoms, []Event{stop, answer("settled", sessions.NotSaid), stop, answer("too-often", sessions.NotSaid)}, "not said! not said!", sessions.NotSaid, sessions.NotSaid, false},
		"not in time, and settled":     {sessions.Completed, []Event{stop, answer(stillThere, sessions.NotSaid), stop, answer("settled", sessions.NotSaid)}, "not said! not said!", sessions.NotSaid, "", false},
		"an answer of a later version": {sessions.Symptoms, []Event{stop, answer("new", "new")}, "not said!", sessions.NotSaid, sessions.NotSaid, false},
		"an answer that is damaged":    {sessions.Symptoms, []Event{stop, {Kind: Answered, Detail: "{"}}, "not said!", sessions.NotSaid, sessions.NotSaid, false},
		"an answer to no stop":         {sessions.Symptoms, []Event{answer("pain", sessions.Pain)}, "", "", sessions.NotSaid, false},
		"a stop that is damaged":       {sessions.Symptoms, []Event{stopped(2, "{")}, "not said!", sessions.NotSaid, sessions.NotSaid, false},
		"two stops with one answer":    {"", []Event{stop, outside, answer("breathing", sessions.Breathing)}, "not said! breathing", sessions.NotSaid, "", false},
		"a pause, then left":           {sessions.Symptoms, []Event{outside, answer(onlyPause, ""), stop, answer("quit", sessions.NotSaid)}, "not said!", sessions.NotSaid, sessions.NotSaid, false},

		// Said after the end.
		"it was pain":                  {sessions.Symptoms, []Event{outside, answer("settled", sessions.NotSaid), stop, answer("quit", sessions.NotSaid), answer("pain", sessions.Pain)}, "not said pain!", sessions.Pain, sessions.Pain, false},
		"it was the breath":            {sessions.Symptoms, []Event{stop, answer("quit", sessions.NotSaid), answer("breathing", sessions.Breathing)}, "breathing!", sessions.Breathing, sessions.Breathing, false},
		"it was tingling, still there": {sessions.Symptoms, []Event{stop, answer(stillThere, sessions.NotSaid), answer("tingling", sessions.Tingling)}, "tingling!", sessions.Tingling, sessions.Tingling, true},
		"it was nothing of these":      {sessions.EndedEarly, []Event{outside, answer("settled", sessions.NotSaid), stop, answer("quit", sessions.NotSaid), answer(Nothing, "")}, "not said", sessions.NotSaid, "", false},
		"pain, and then breathing":     {sessions.Symptoms, []Event{stop, answer("pain", sessions.Pain), answer("breathing", sessions.Breathing)}, "pain!", sessions.Pain, sessions.Pain, false},

		// Of format 1, where a stop that nobody explained was one for tingling.
		"old: no answer":               {"", []Event{old}, "tingling!", sessions.Tingling, "", false},
		"old: settled":                 {sessions.Completed, []Event{old, answer("settled", sessions.Tingling)}, "tingling!", sessions.Tingling, "", false},
		"old: left":                    {sessions.Symptoms, []Event{old, answer("quit", "")}, "tingling!", sessions.Tingling, sessions.Tingling, false},
		"old: breathing":               {sessions.Symptoms, []Event{old, answer("breathing", sessions.Breathing)}, "breathing!", sessions.Breathing, sessions.Breathing, false},
		"old: still":                   {sessions.Symptoms, []Event{old, answer(stillThere, sessions.Tingling)}, "tingling!", sessions.Tingling, sessions.Tingling, true},
		"old: asked, it was breathing": {sessions.Symptoms, []Event{old, answer("too-often", sessions.Tingling), answer("breathing", sessions.Breathing)}, "tingling!", sessions.Tingling, sessions.Tingling, false},
		"old: asked, it was pain":      {sessions.Symptoms, []Event{old, answer("too-often", sessions.Tingling), answer("pain", sessions.Pain)}, "pain!", sessions.Pain, sessions.Pain, false},
		"old: in the lead-in":          {"", []Event{stopped(-1, "")}, "tingling", sessions.Tingling, "", false},
		"old: after a last repetition": {"", []Event{rep(1), stopped(0, "")}, "tingling", sessions.Tingling, "", false},
		"old: after enough":            {"", []Event{enough, stopped(0, "")}, "tingling", sessions.Tingling, "", false},
		"old: in the next repetition":  {"", []Event{rep(1), old}, "tingling!", sessions.Tingling, "", false},
		"old: set-up or first inhale":  {"", []Event{stopped(0, "")}, "tingling!", sessions.Tingling, "", false},
		"old: gone on, first inhale":   {"", []Event{rep(1), {Kind: Resumed, Exercise: 1, Side: "right", Set: 1}, stopped(0, "")}, "tingling!", sessions.Tingling, "", false},
		"old: first inhale of set 1":   {"", []Event{{Kind: Repetition, Exercise: 2, Side: "right", Set: 1, Rep: 9}, stopped(0, "")}, "tingling!", sessions.Tingling, "", false},
	} {
		s := Session{Outcome: c.outcome, Stops: make([]Stop, 7), EndedBy: sessions.Pain, NotInTime: true} // of no account but for the outcome
		s.gather(c.events, nil)
		var stops []string
		for _, stop := range s.Stops {
			stops = append(stops, string(stop.Symptom)+map[bool]string{true: "!"}[stop.InSet])
		}
		if got := strings.Join(stops, " "); got != c.stops || s.Symptom() != c.worst || s.EndedBy != c.endedBy || s.NotInTime != c.notInTime {
			t.Errorf("%s: stops %q, the worst %q, ended by %q, not in time %v; want %+v", name, got, s.Symptom(), s.EndedBy, s.NotInTime, c)
		}
	}
}

// What ended a session may be said when it is over, to its row too.
func TestNothingOfThese(t *testing.T) {
	d := fresh(t)
	r := begun(t, d, sample(time.Now()))
	end := ending(1)
	end.Outcome = sessions.Symptoms
	do(t, r.Event(rep(1)), r.Event(stopped(2, encode(Stopping{true}))), r.Event(answer("quit", sessions.NotSaid)), r.End(end))
	for _, c := range []struct {
		say   Event
		words string
	}{
		{answer("pain", sessions.Pain), "stopped for pain"},
		{answer(Nothing, ""), "ended early"},
	} {
		do(t, r.Event(c.say))
		list := must(d.List(Filter{}))
		if s := only(t, d); s.OutcomeWords() != c.words || list[0].OutcomeWords() != c.words {
			t.Errorf("%q, listed %q; want %q", s.OutcomeWords(), list[0].OutcomeWords(), c.words)
		}
	}
	kinds := ""
	for _, e := range only(t, d).Events {
		kinds += string(e.Kind) + " " + strings.Split(e.Detail, ",")[0] + "\n"
	}
	const want = `started 
repetition 
stopped {"in_set":true}
answered {"answer":"quit"
ended symptoms
answered {"answer":"pain"
answered {"answer":"nothing"
`
	if kinds != want {
		t.Errorf("events\n%s", kinds)
	}
	// One that ended early, or was done to its end, stays what it was.
	for _, o := range []sessions.Outcome{sessions.Completed, sessions.Interrupted} {
		d := fresh(t)
		r := begun(t, d, sample(time.Now()))
		end.Outcome = o
		do(t, r.End(end), r.Event(answer(Nothing, "")))
		if s := only(t, d); s.Outcome != o {
			t.Errorf("%s became %s", o, s.Outcome)
		}
	}
}

func TestOutcomeInWords(t *testing.T) {
	stop := func(list ...sessions.Symptom) (stops []Stop) {
		for _, s := range list {
			stops = append(stops, Stop{Symptom: s})
		}
		return stops
	}
	for want, s := range map[string]Session{
		"not ended":                  {},
		"completed":                  {Outcome: sessions.Completed},
		"ended early":                {Outcome: sessions.EndedEarly},
		"interrupted":                {Outcome: sessions.Interrupted},
		"new":                        {Outcome: "new"},
		"stopped":                    {Outcome: sessions.Symptoms},
		"stopped, reason not said":   {Outcome: sessions.Symptoms, EndedBy: sessions.NotSaid, Stops: stop(sessions.NotSaid)},
		"stopped for tingling":       {Outcome: sessions.Symptoms, EndedBy: sessions.Tingling},
		"stopped for the breath":     {Outcome: sessions.Symptoms, EndedBy: sessions.Breathing},
		"stopped for a warning sign": {Outcome: sessions.Symptoms, EndedBy: sessions.WarningSign},
		"stopped for pain":           {Outcome: sessions.Symptoms, EndedBy: sessions.Pain, Stops: stop(sessions.Tingling, sessions.Pain)},
		"stopped for tingling, not settled in time": {Outcome: sessions.Symptoms, EndedBy: sessions.Tingling, NotInTime: true},
		"stopped, not settled in time":              {Outcome: sessions.Symptoms, EndedBy: sessions.NotSaid, NotInTime: true},
		"completed, with a stop, reason not said":   {Outcome: sessions.Completed, Stops: stop(sessions.NotSaid)},
		"ended early, with a stop for pain":         {Outcome: sessions.EndedEarly, Stops: stop(sessions.Tingling, sessions.Pain, sessions.NotSaid)},
		"interrupted, with a stop for the breath":   {Outcome: sessions.Interrupted, Stops: stop(sessions.Breathing)},
	} {
		if got := s.OutcomeWords(); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

func TestWhatEventsTell(t *testing.T) {
	d := fresh(t)
	plain, full := sample(time.Now()), sample(time.Now().Add(time.Hour))
	plain.ID, full.ID = "a000000000", "b000000000"
	full.Plan, full.Before = `{"reps":5}`, sessions.Ratings{Tingling: of(2), Pain: of(0)}
	do(t, begun(t, d, plain).End(ending(1)))
	r := begun(t, d, full)
	do(t, r.Event(rep(1)), r.Event(Event{At: 14 * time.Second, Exercise: 1, Side: "right", Set: 1}.With(Stopping{false})),
		r.Event(Event{At: 54 * time.Second}.With(Answer{"settled", sessions.Tingling, 40, 6.4, 8})),
		r.End(ending(8)),
		r.Event(Event{At: 100 * time.Second}.With(Rating{AfterSession, sessions.Ratings{Tingling: of(10), Pain: nil}})),
		r.Event(Event{At: 101 * time.Second}.With(Rating{AfterSession, sessions.Ratings{Tingling: of(3), Pain: of(1)}})),
		r.Event(Event{At: 102 * time.Second, Kind: Rated, Detail: "{"}),
		r.Event(Event{At: 220 * time.Second}.With(Settling{true, 90})),
		r.Event(Event{At: 221 * time.Second, Kind: Settled, Detail: "?"}),
		r.Event(Event{At: 222 * time.Second}.With(Feeling{sessions.NoStronger})),
		r.Event(Event{At: 223 * time.Second}.With(Feeling{sessions.Stronger})))
	list := must(d.List(Filter{}))
	want := *full
	want.After, want.Settling = sessions.Ratings{Tingling: of(3), Pain: of(1)}, &Settling{true, 90}
	shown := must(d.Show("b0000"))
	for _, got := range []Session{list[1], shown} {
		if got.Plan != want.Plan || !reflect.DeepEqual(got.Before, want.Before) || !reflect.DeepEqual(got.After, want.After) ||
			!reflect.DeepEqual(got.Settling, want.Settling) || !slices.Equal(got.Stops, []Stop{{Symptom: sessions.Tingling, Exercise: 1, Side: "right", Set: 1, Settled: 40, Rate: 6.4}}) || got.Notes != nil || got.Felt != sessions.Stronger {
			t.Errorf("got %+v", got)
		}
	}
	if got := list[0]; got.Plan != "" || !got.Before.IsZero() || !got.After.IsZero() || got.Settling != nil || got.Stops != nil {
		t.Errorf("a session of which nothing was said: %+v", got)
	}
	if list[1].Events != nil {
		t.Error("the list has events")
	}

	text := shown.String()
	for _, line := range []string{
		"stopped      outside a set for tingling\n", "before       tingling 2, pain 0\n", "after        tingling 3, pain 1\n", "settled      after 1m30s\n",
		" 0:00 started\n", " 0:00 rating  before: tingling 2, pain 0\n", " 0:14 stopped  outside a set\n",
		" 0:54 answered  settled after 40s, eased to 6.4 breaths a minute, the set to end with repetition 8\n",
		" 1:40 rating  after: tingling 10\n", " 1:42 rating  {\n", " 3:40 settled  after 1m30s\n",
		"after        symptoms stronger than before\n", " 3:42 felt  no stronger\n",
	} {
		if !strings.Contains(text, line) {
			t.Errorf("no line %q in\n%s", line, text)
		}
	}
}

func TestRatingsInShort(t *testing.T) {
	for want, r := range map[string]sessions.Ratings{
		"": {}, "2/0": {Tingling: of(2), Pain: of(0)}, "10/-": {Tingling: of(10)}, "-/3": {Pain: of(3)},
	} {
		if got := r.String(); got != want || r.IsZero() != (want == "") {
			t.Errorf("%q, zero %v, want %q", got, r.IsZero(), want)
		}
	}
}

func TestDetailsAsTheyAreStored(t *testing.T) {
	// Other programs read these.
	for want, of := range map[string]Detail{
		`{"when":"before","tingling":2,"pain":0}`: Rating{BeforeSession, sessions.Ratings{Tingling: of(2), Pain: of(0)}},
		`{"when":"after"}`:                        Rating{When: AfterSession},
		`{"answer":"settled","symptom":"tingling","after_s":40,"rate_per_min":6.4,"reps":8}`: Answer{"settled", sessions.Tingling, 40, 6.4, 8},
		`{"answer":"pause","symptom":"","after_s":5.5}`:                                      Answer{Reply: onlyPause, After: 5.5},
		`{"settled":true,"after_s":90}`:                                                      Settling{true, 90},
		`{"settled":false,"after_s":120}`:                                                    Settling{false, 120},
		`{"text":"a","written":"2026-12-01T08:30:00+01:00"}`:                                 Note{"a", time.Date(2026, 12, 1, 8, 30, 0, 0, time.FixedZone("", 3600))},
		`{"text":"a"}`:                         Note{Text: "a"},
		`{"n":2}`:                              paper{2},
		`{"n":3,"id":"3f2a","since_s":723.25}`: undated{3, Boot{ID: "3f2a", Since: 723.25}},
		`{"n":3,"id":"3f2a","since_s":1,"not_before":"2026-12-01T08:30:00Z"}`: undated{3, Boot{ID: "3f2a", Since: 1, NotBefore: time.Date(2026, 12, 1, 8, 30, 0, 0, time.UTC)}},
		`{"n":1,"id":"","since_s":0,"clock":"2026-12-01T08:30:00Z"}`:          undated{1, Boot{Clock: time.Date(2026, 12, 1, 8, 30, 0, 0, time.UTC)}},
		`{"in_set":true}`:      Stopping{true},
		`{"symptoms":"worse"}`: morning{Symptoms: sessions.Worse},
		`{"symptoms":"not worse","said":"2026-12-02T08:30:00Z"}`: morning{sessions.NotWorse, time.Date(2026, 12, 2, 8, 30, 0, 0, time.UTC)},
		`{"symptoms":"stronger"}`:                                Feeling{sessions.Stronger},
	} {
		if got := encode(of); got != want {
			t.Errorf("%s, want %s", got, want)
		}
		back := reflect.New(reflect.TypeOf(of))
		if err := json.Unmarshal([]byte(want), back.Interface()); err != nil || encode(back.Elem().Interface().(Detail)) != want {
			t.Errorf("%s is read back as %+v (%v)", want, back.Elem(), err)
		}
	}
}
