package progress_test

import (
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"glidepace/sessions/progress"
)

// The first session of each diary begins at 18:00, each further a minute later.
// 1 December 2026 is a Tuesday.
func TestGate(t *testing.T) {
	const (
		all     = " Begin all the same?"
		back    = " Is everything back to where it was?"
		rest    = " Your clinician's plan is to rest until tomorrow." + all
		morning = "Still worse the morning after the last session?"
		noNeck  = " No neck glide until your clinician has cleared it."
		speak   = "Several sessions in a row were stopped, cut short or uncomfortable. Speak to your clinician before you do another."
	)
	for _, c := range []struct {
		diary, name string
		now         string // day of December 2026 and time; "" where neither is known
		want        string // words and question of each, a line each
	}{
		{"", "work", "1 20:00", ""},
		{"1 unrated", "work", "1 20:00", ""},
		{"1 unrated", "work", "2 08:00", ""},

		// Calls for rest today, and for a question before the next.
		{"1 pain", "work", "1 20:00", "The session at 18:00 today ended with pain." + rest},
		{"1 out-pain", "work", "1 20:00", "The session at 18:00 today ended with pain." + rest},
		{"1 breath", "work", "1 20:00", "The session at 18:00 today left you light-headed or short of breath." + rest},
		{"1 breath-said", "work", "1 20:00", "The session at 18:00 today left you light-headed or short of breath." + rest},
		{"1 tingled", "work", "1 20:00", "The session at 18:00 today ended with tingling or numbness." + rest},
		{"1 out-still", "work", "1 20:00", "The session at 18:00 today ended with symptoms that did not settle." + rest},
		{"1 up1not", "work", "1 20:00", "The session at 18:00 today ended with symptoms that did not settle." + rest},
		{"1 unsaid", "work", "1 20:00", "The session at 18:00 today was stopped." + rest},
		{"1 pain", "work", "2 08:00", "The last session yesterday ended with pain." + back},
		{"1 unsaid", "work", "3 08:00", "The last session on Tuesday was stopped." + back},
		{"1 breath", "work", "7 08:00", "The last session on Tuesday left you light-headed or short of breath." + back},
		{"1 pain", "work", "8 08:00", "The last session on 2026-12-01 ended with pain." + back},
		// Does not.
		{"1 early", "no gap", "1 18:01", ""},
		{"1 went-on", "no gap", "1 18:01", ""},
		{"1 up1late", "no gap", "1 18:01", ""},
		{"1 cut", "work", "1 20:00", ""},
		// The rest holds all day, whatever was done after it. On later days only the last
		// session counts, and not one that was left before it had begun.
		{"1 pain 1 same", "work", "1 20:00", "The session at 18:00 today ended with pain." + rest},
		{"1 pain 1 same", "work", "2 08:00", morning},
		{"1 pain 1 left", "work", "1 20:00", "The session at 18:00 today ended with pain." + rest},
		{"1 pain 2 left", "work", "2 20:00", "The last session yesterday ended with pain." + back},
		// A clock that was wrong, one that still is, and none.
		{"31 same 5 pain", "work", "32 08:00", "The last session ended with pain." + back},
		{"31 same 5 pain", "work", "5 20:00", "The session at 18:01 today ended with pain." + rest},
		{"1 same ? pain", "work", "", "The last session ended with pain." + back},

		// A warning sign, on any day, whatever was done since, until it is
		// cleared.
		{"use neck 1 head", "neck", "1 20:00", "A session today was stopped for a warning sign." + noNeck},
		{"use neck 1 head", "neck", "20 08:00", "A session on 2026-12-01 was stopped for a warning sign." + noNeck},
		{"use neck 1 head", "neck", "", "A session on 2026-12-01 was stopped for a warning sign." + noNeck},
		{"use neck 1 head 2 unrated", "neck", "2 20:00", "A session yesterday was stopped for a warning sign." + noNeck},
		{"use neck 1 head 2 clear", "neck", "2 20:00", ""},
		{"use neck 1 head 2 clear 3 unrated", "neck", "3 20:00", ""},
		{"use neck 1 head 2 clear 2 head", "neck", "2 20:00", "A session today was stopped for a warning sign." + noNeck},
		// Other exercises.
		{"use neck 1 head", "work", "1 20:00", "The session at 18:00 today was stopped for a warning sign." + rest},
		{"use neck 1 head", "work", "2 08:00", ""},
		{"use neck 1 head use work 1 unrated", "neck", "1 20:00", "A session today was stopped for a warning sign." + noNeck},
		// The file has changed; another that was in use before has not.
		{"use neck 1 head", "neck5", "1 20:00", "The session at 18:00 today was stopped for a warning sign." + rest},
		{"use neck 1 head", "neck5", "2 08:00", ""},
		{"use neck 1 head use neck5 1 unrated", "neck5", "1 20:00", ""},
		{"use neck5 1 unrated use neck 1 head", "neck5", "1 20:00", "A session today was stopped for a warning sign." + noNeck},
		// Without a neck glide that could be left out.
		{"1 head", "work", "1 20:00", "The session at 18:00 today was stopped for a warning sign." + rest},
		{"1 head", "work", "2 08:00", "The last session yesterday was stopped for a warning sign." + back},

		// Three in a row that were stopped, cut short or uncomfortable. One that was
		// not rated changes nothing; a comfortable one, or a new file, ends it.
		{"1,1 went-on", "work", "1 20:00", ""},
		{"1,1,1 went-on", "work", "1 20:00", speak},
		{"1,1,1 cut", "work", "1 20:00", speak},
		{"1,1,1 cut", "work", "", speak},
		{"1 early 1 went-on 1 breath", "work", "2 08:00", speak + "\nThe last session yesterday left you light-headed or short of breath." + back},
		{"1,1 went-on 1 unrated 1 went-on", "work", "1 20:00", speak},
		{"1,1 went-on 1 same 1,1 went-on", "work", "1 20:00", ""},
		{"1,1,1 went-on", "rate", "1 20:00", ""},
		{"use neck 1,1,1 head", "neck", "2 08:00", speak + "\nA session yesterday was stopped for a warning sign." + noNeck},

		// The dose: two a day from the 2nd to the 8th, 2 hours apart.
		{"", "twice", "1 20:00", "The course begins on 2026-12-02." + all},
		{"", "twice", "2 08:00", ""},
		{"", "twice", "8 08:00", ""},
		{"", "twice", "9 08:00", "The course ended on 2026-12-08." + all},
		{"2 unrated", "twice", "2 19:59", "The last session began at 18:00. The next should not begin before 20:00." + all},
		{"2 unrated", "twice", "2 20:00", ""},
		{"2,2 unrated", "twice", "2 20:01", "Today's two sessions are done." + all},
		{"2,2 unrated", "twice", "3 08:00", ""},
		{"2 unrated 2 left", "twice", "2 20:01", ""},
		{"2p,2 unrated", "twice", "2 20:01", "Today's two sessions are done." + all},
		{"1 unrated", "once", "1 20:00", "Today's one session is done." + all},
		// An hour where the file says nothing.
		{"1 unrated", "work", "1 18:59", "The last session began at 18:00. The next should not begin before 19:00." + all},
		{"1 unrated", "work", "1 19:00", ""},
		{"1 unrated 1 left", "work", "1 19:00", ""},
		{"1p unrated", "work", "1 18:01", ""}, // begun nobody knows when
		{"1? unrated", "work", "1 18:01", ""},

		// The first of a day, the one before being rated.
		{"1 same", "work", "2 08:00", morning},
		{"1 2/->-/-", "work", "3 08:00", morning},
		{"1 -/->-/3", "work", "9 08:00", morning},
		{"1 same 2 left", "work", "2 20:00", morning},
		{"1 same", "work", "1 20:00", ""},
		{"1 same 2 same", "work", "2 20:00", ""},
		{"1 same 2 unrated", "work", "3 08:00", ""},
		{"1 worse", "work", "2 08:00", ""},
		{"1 notworse", "work", "2 08:00", ""},
		{"? same", "work", "2 08:00", ""},
		{"1 same", "work", "", ""},

		// More than one, the weightiest first.
		{"1 up1not", "work", "2 08:00", "The last session yesterday ended with symptoms that did not settle." + back},
		{"2 unrated 2 pain", "twice", "2 18:30", "The session at 18:01 today ended with pain." + rest +
			"\nToday's two sessions are done." + all +
			"\nThe last session began at 18:01. The next should not begin before 20:01." + all},
		{"use neck 1 head use work 2 pain", "neck", "3 08:00", "The last session yesterday ended with pain." + back +
			"\nA session on Tuesday was stopped for a warning sign." + noNeck},
	} {
		now := at(c.now)
		var got []string
		list := progress.Gate(prescriptions[c.name], diary(c.diary), now)
		for _, h := range list {
			got = append(got, strings.TrimSpace(h.Message(now)+" "+h.Question()))
		}
		if strings.Join(got, "\n") != c.want {
			t.Errorf("%q, %s at %q:\n%s\nwant\n%s", c.diary, c.name, c.now, strings.Join(got, "\n"), c.want)
		}
		if !slices.IsSortedFunc(list, func(a, b progress.Hurdle) int { return int(a.Kind) - int(b.Kind) }) {
			t.Errorf("%q: not the weightiest first", c.diary)
		}
	}
}

// at is a time of December 2026, written "DAY 15:04"; zero for "".
func at(text string) time.Time {
	day, clock, found := strings.Cut(text, " ")
	if !found {
		return time.Time{}
	}
	of, err := time.Parse("15:04", clock)
	if err != nil {
		panic(err)
	}
	n, err := strconv.Atoi(day)
	if err != nil {
		panic(err)
	}
	return time.Date(2026, 12, n, of.Hour(), of.Minute(), 0, 0, time.UTC)
}

// The answer to the question about the next morning belongs to the entry.
func TestHurdleIsAboutAnEntry(t *testing.T) {
	list := progress.Gate(prescriptions["work"], diary("1 pain 2 same"), at("3 08:00"))
	if len(list) != 1 || list[0].Kind != progress.AskMorning || list[0].Entry.ID != "s01" {
		t.Errorf("%+v", list)
	}
}

// A warning sign holds in every file of the same person that was in use by
// then; of another file nothing else counts.
func TestGateOfAnotherFile(t *testing.T) {
	list := diary("use neck5 1 unrated use neck 1 head")
	for i := range list {
		list[i].OtherFile = list[i].Prescription != prescriptions["neck5"].Hash()
	}
	gate := progress.Gate(prescriptions["neck5"], list, at("2 20:00"))
	if len(gate) != 1 || gate[0].Kind != progress.NeckShut {
		t.Errorf("the gate has %+v, want the neck shut alone", gate)
	}
	if gate := progress.Gate(prescriptions["work"], list, at("1 20:00")); len(gate) != 0 {
		t.Errorf("the gate of a file without neck glides has %+v, want nothing", gate)
	}
}
