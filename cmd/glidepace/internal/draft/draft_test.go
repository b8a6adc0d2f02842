package draft_test

import (
	"reflect"
	"strings"
	"testing"
	"time"

	"glidepace/cmd/glidepace/internal/draft"
	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/glides"
)

func parse(t *testing.T, a draft.Answers) (*sessions.Session, error) {
	t.Helper()
	return sessions.Parse("x", strings.NewReader(a.Text()))
}

// With the usual answers every glide of the library makes a file that can be paced. It
// asks for no care but that of the glide.
func TestUsual(t *testing.T) {
	for _, g := range glides.All() {
		for _, side := range []string{"right", "left", "both"} {
			a := draft.Usual()
			a.Exercises[0].Glide, a.Exercises[0].Side = g.Name, side
			s, err := parse(t, a)
			if err != nil {
				t.Fatal(err)
			}
			tl, err := pacer.New(s)
			if err != nil {
				t.Fatal(err)
			}
			for _, c := range pacer.Cautions(tl) {
				if !strings.HasPrefix(c.Text, g.Name+": ") {
					t.Errorf("%s, %s: %s", g.Name, side, c.Text)
				}
			}
		}
	}
}

// Each answer is in the file as what it is.
func TestAnswers(t *testing.T) {
	a := draft.Answers{
		Title: `Third "week": #2`, Patient: "K-204", PerDay: "1-3", Weeks: "8", Start: "2026-12-01",
		Rate: "6.5", Ratio: " 1:2", Pause: "400ms ", LeadIn: "4", RepsFrom: "5",
		Exercises: []draft.Exercise{{"median-slider", "both", "2", "8"}, {"ulnar-elbow", "left", "1", "12"}},
	}
	s, err := parse(t, a)
	if err != nil {
		t.Fatal(err)
	}
	start, _ := sessions.ParseDate("2026-12-01")
	want := &sessions.Session{
		Title: `Third "week": #2`, Patient: "K-204", LeadIn: 4, Ease: sessions.DefaultEase, Sounds: sessions.DefaultSounds,
		Dose:     &sessions.Dose{PerDayMin: 1, PerDayMax: 3, Days: 56, Start: start, Gap: time.Hour},
		Breath:   sessions.Breath{Rate: 6.5, Ratio: sessions.Ratio{Inhale: 1, Exhale: 2}, Pause: 400 * time.Millisecond},
		Progress: &sessions.Progress{RepsFrom: 5, Add: 1, After: 3, Days: sessions.DefaultDays},
	}
	for i, name := range []string{"median-slider", "ulnar-elbow"} {
		g, _ := glides.Find(name)
		want.Exercises = append(want.Exercises, sessions.Exercise{Glide: g, BothEnds: g.BothEnds, Rest: 30 * time.Second, SetUp: -1,
			Side: []sessions.Side{sessions.Both, sessions.Left}[i], Sets: 2 - i, Reps: 8 + 4*i})
	}
	if s.Hash() != want.Hash() || s.Title != want.Title || s.Patient != want.Patient || !reflect.DeepEqual(s.Dose, want.Dose) {
		t.Errorf("%+v\nwant %+v", s, want)
	}
}

// Whatever is typed stays one value: it is refused, and changes nothing else. Spaces
// around it do not matter.
func TestHostileAnswers(t *testing.T) {
	for _, typed := range []string{"10 # more", "10\nsets: 3", "10}", "10, sets: 3", "{a: 1}", "- 10", "&a 10", "!!int 10", "\x00", "\"", "\u202e10"} {
		for name, set := range map[string]func(a *draft.Answers){
			"reps":    func(a *draft.Answers) { a.Exercises[0].Reps = typed },
			"lead-in": func(a *draft.Answers) { a.LeadIn = typed },
			"patient": func(a *draft.Answers) { a.Patient = typed },
			"ratio":   func(a *draft.Answers) { a.Ratio = typed },
		} {
			a := draft.Usual()
			a.Exercises[0].Glide, a.Exercises[0].Side = "median-wrist", "right"
			set(&a)
			_, err := parse(t, a)
			file, ok := err.(*sessions.Error)
			if !ok || file.Problems[0].Place != file.Problems[len(file.Problems)-1].Place {
				t.Errorf("%s %q: %v, want it refused at one place", name, typed, err)
			}
		}
	}
}
