package diary

import (
	"encoding/json"
	"glidepace/sessions"
	"reflect"
	"strings"
	"testing"
	"time"
)

func stop(at int) Event { return Event{At: time.Duration(at) * time.Second, Kind: Stopped} }

func answer(reply string, felt sessions.Symptom) Event {
	return Event{Kind: Answered, Detail: Detail(Answer{Reply: reply, Symptom: felt, After: 30})}
}

func TestSymptomOfASession(t *testing.T) {
	for name, c := range map[string]struct {
		events []Event
		stops  int
		want   sessions.Symptom
	}{
		"none":                         {nil, 0, ""},
		"settled":                      {[]Event{stop(9), answer("settled", sessions.Tingling)}, 1, sessions.Tingling},
		"only a pause":                 {[]Event{stop(9), answer(OnlyPause, "")}, 0, ""},
		"pain":                         {[]Event{stop(9), answer("pain", sessions.Pain)}, 1, sessions.Pain},
		"breathing":                    {[]Event{stop(9), answer("breathing", sessions.Breathing)}, 1, sessions.Breathing},
		"no answer yet":                {[]Event{stop(9)}, 1, sessions.Tingling},
		"a symptom without a name":     {[]Event{stop(9), answer("quit", "")}, 1, sessions.Tingling},
		"an answer of a later version": {[]Event{stop(9), answer("new", "new")}, 1, sessions.Tingling},
		"an answer that is damaged":    {[]Event{stop(9), {Kind: Answered, Detail: "{"}}, 1, sessions.Tingling},
		"tingling, then pain":          {[]Event{stop(9), answer("settled", sessions.Tingling), stop(20), answer("pain", sessions.Pain)}, 2, sessions.Pain},
		"pain, then breathing":         {[]Event{stop(9), answer("pain", sessions.Pain), stop(20), answer("breathing", sessions.Breathing)}, 2, sessions.Pain},
		"breathing, then no answer":    {[]Event{stop(9), answer("breathing", sessions.Breathing), stop(20)}, 2, sessions.Tingling},
		"a pause, then tingling":       {[]Event{stop(9), answer(OnlyPause, ""), stop(20), answer("still", sessions.Tingling)}, 1, sessions.Tingling},
		"two stops with one answer":    {[]Event{stop(9), stop(20), answer("breathing", sessions.Breathing)}, 2, sessions.Tingling},
		"a stop and a new try":         {[]Event{stop(9), {Kind: Resumed}, rep(3)}, 1, sessions.Tingling},
	} {
		s := Session{Stops: 7, Symptom: sessions.Pain} // of no account
		s.gather(c.events)
		if s.Stops != c.stops || s.Symptom != c.want {
			t.Errorf("%s: %d stops, %q, want %d, %q", name, s.Stops, s.Symptom, c.stops, c.want)
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
	do(t, r.Event(rep(1)), r.Event(stop(14)),
		r.Event(Event{At: 54 * time.Second, Kind: Answered, Detail: Detail(Answer{"settled", sessions.Tingling, 40, 6.4, 8})}),
		r.End(ending(8)),
		r.Event(Event{At: 100 * time.Second, Kind: Rated, Detail: Detail(Rating{AfterSession, sessions.Ratings{Tingling: of(10), Pain: nil}})}),
		r.Event(Event{At: 101 * time.Second, Kind: Rated, Detail: Detail(Rating{AfterSession, sessions.Ratings{Tingling: of(3), Pain: of(1)}})}),
		r.Event(Event{At: 102 * time.Second, Kind: Rated, Detail: "{"}),
		r.Event(Event{At: 220 * time.Second, Kind: Settled, Detail: Detail(Settling{true, 90})}),
		r.Event(Event{At: 221 * time.Second, Kind: Settled, Detail: "?"}),
		r.Event(Event{At: 222 * time.Second, Kind: Felt, Detail: Detail(Feeling{sessions.NoStronger})}),
		r.Event(Event{At: 223 * time.Second, Kind: Felt, Detail: Detail(Feeling{sessions.Stronger})}))
	list, err := d.List(Filter{})
	do(t, err)
	want := *full
	want.After, want.Settling, want.Stops, want.Symptom = sessions.Ratings{Tingling: of(3), Pain: of(1)}, &Settling{true, 90}, 1, sessions.Tingling
	shown, err := d.Show("b0000")
	do(t, err)
	for _, got := range []Session{list[1], shown} {
		if got.Plan != want.Plan || !reflect.DeepEqual(got.Before, want.Before) || !reflect.DeepEqual(got.After, want.After) ||
			!reflect.DeepEqual(got.Settling, want.Settling) || got.Stops != 1 || got.Symptom != sessions.Tingling || got.Notes != nil || got.Felt != sessions.Stronger {
			t.Errorf("got %+v", got)
		}
	}
	if got := list[0]; got.Plan != "" || !got.Before.IsZero() || !got.After.IsZero() || got.Settling != nil || got.Stops != 0 {
		t.Errorf("a session of which nothing was said: %+v", got)
	}
	if list[1].Events != nil {
		t.Error("the list has events")
	}

	text := shown.String()
	for _, line := range []string{
		"stops        1, tingling\n", "before       tingling 2, pain 0\n", "after        tingling 3, pain 1\n", "settled      after 1m30s\n",
		" 0:00 started\n", " 0:00 rating  before: tingling 2, pain 0\n", " 0:14 stopped\n",
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
	for want, of := range map[string]any{
		`{"when":"before","tingling":2,"pain":0}`: Rating{BeforeSession, sessions.Ratings{Tingling: of(2), Pain: of(0)}},
		`{"when":"after"}`:                        Rating{When: AfterSession},
		`{"answer":"settled","symptom":"tingling","after_s":40,"rate_per_min":6.4,"reps":8}`: Answer{"settled", sessions.Tingling, 40, 6.4, 8},
		`{"answer":"pause","symptom":"","after_s":5.5}`:                                      Answer{Reply: OnlyPause, After: 5.5},
		`{"settled":true,"after_s":90}`:                                                      Settling{true, 90},
		`{"settled":false,"after_s":120}`:                                                    Settling{false, 120},
		`{"text":"a","written":"2026-12-01T08:30:00+01:00"}`:                                 Note{"a", time.Date(2026, 12, 1, 8, 30, 0, 0, time.FixedZone("", 3600))},
		`{"text":"a"}`:                         Note{Text: "a"},
		`{"n":2}`:                              Paper{2},
		`{"n":3,"id":"3f2a","since_s":723.25}`: undated{3, Boot{ID: "3f2a", Since: 723.25}},
		`{"n":3,"id":"3f2a","since_s":1,"not_before":"2026-12-01T08:30:00Z"}`: undated{3, Boot{"3f2a", 1, time.Date(2026, 12, 1, 8, 30, 0, 0, time.UTC)}},
		`{"symptoms":"stronger"}`: Feeling{sessions.Stronger},
	} {
		if got := Detail(of); got != want {
			t.Errorf("%s, want %s", got, want)
		}
		back := reflect.New(reflect.TypeOf(of))
		if err := json.Unmarshal([]byte(want), back.Interface()); err != nil || Detail(back.Elem().Interface()) != want {
			t.Errorf("%s is read back as %+v (%v)", want, back.Elem(), err)
		}
	}
}
