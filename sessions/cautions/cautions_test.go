package cautions

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"glidepace/sessions/glides"
)

// What each list must name. Common practice, no source.
func TestLists(t *testing.T) {
	for _, c := range []struct {
		list  string
		items []string
		names string // parts, between strokes
	}{
		{"before a session", BeforeSession, "movements you were taught|shorter than a second|never a hold or a stretch|" +
			"within a couple of minutes|strong tingling or numbness: stop|back to where it was|pain: stop for today|tell your clinician|" +
			"softly, not deeply|light-headed|tingling around the mouth|short of breath|breathe as you like|sit down|not while driving"},
		{"in brief", []string{InBrief}, "strong tingling: stop|pain: stop for today|light-headed: stop"},
		{"neck glide", []string{NeckGlide()}, "dizzy, unsteady or faint|sight, speech or swallowing|face numb|neck injury|key for it|sit down|" +
			"cleared it|or a faint: call emergency services"},
		{"emergency services", emergency, "chest pain|breathlessness that does not ease when you sit and stop pacing|weakness of one side|drooping face|slurred speech|sight, speech or swallowing|" +
			"faint when the head moves|bladder or bowel|between the legs"},
		{"the same day", sameDay, "fever with a hot, swollen joint|swollen, blue or cold arm|severe neck pain or headache|falls without fainting|electric shock"},
		{"promptly", seeClinician, "weakness that grows|numbness that does not go away|both hands|hands and legs|clumsiness or unsteady walking|" +
			"pain at night|weight lost|fresh injury|the nerve, the limb, the neck or the armpit"},
		{"ask, breath", []string{AskBreath}, "pregnancy|heart or lung disease|epilepsy|panic disorder"},
		{"ask, neck", []string{AskNeck}, "rheumatoid arthritis of the neck|lax ligaments|cancer"},
		{"lending", Lending, "flyback diode|pull-down|no mains|other upper arm|pacemaker or stimulator|little force|persist_gpio_outputs|infection control|fresh or encrypted card"},
		{"other hand", []string{otherHand}, "holds the button or rests in the lap|first make the movement smaller or lower the arm|light touch|never press it down"},
		{"sound", []string{Volume}, "low|speech around you can still be heard"},
	} {
		text := strings.ToLower(strings.Join(c.items, "\n"))
		for name := range strings.SplitSeq(c.names, "|") {
			if !strings.Contains(text, name) {
				t.Errorf("%s: %q is not named", c.list, name)
			}
		}
		for unwanted, why := range map[string]string{
			"tingling on both sides": "people who treat both hands may have that anyway",
			"--":                     "the lists know no commands",
		} {
			if strings.Contains(text, unwanted) {
				t.Errorf("%s: %q: %s", c.list, unwanted, why)
			}
		}
	}
	if n := utf8.RuneCountInString(InBrief); n > 80 {
		t.Errorf("in brief: %d characters are more than a line of 80", n)
	}
}

func titles(lists []List) (all []string) {
	for _, l := range lists {
		all = append(all, l.Title)
	}
	return all
}

// What concerns the neck is told where a glide moves the head, and only there.
func TestListsForTheNeck(t *testing.T) {
	text := func(lists []List) string {
		var all []string
		for _, l := range lists {
			all = append(all, l.Items...)
		}
		return strings.Join(all, "\n")
	}
	for _, want := range append(slices.Clone(BeforeSession), otherHand, Volume) {
		if !strings.Contains(text(Everything(false)), want) {
			t.Errorf("Everything has not %q", want)
		}
	}
	for _, neck := range []bool{false, true} {
		if got := strings.Contains(text(When(neck)), AskNeck); got != neck {
			t.Errorf("When(%t) has the neck's line: %t", neck, got)
		}
		if got := strings.Contains(text(Everything(neck)), NeckGlide()); got != neck {
			t.Errorf("Everything(%t) has the neck's lines: %t", neck, got)
		}
		want := titles(When(neck))
		if got := titles(Everything(neck)); !slices.Equal(got[len(got)-len(want):], want) {
			t.Errorf("Everything(%t) ends with %q, want %q", neck, got, want)
		}
	}
}

func TestCautionsOfAGlide(t *testing.T) {
	library := func(name string) glides.Glide {
		g, ok := glides.Find(name)
		if !ok {
			t.Fatalf("no glide %s", name)
		}
		return g
	}
	for _, c := range []struct {
		glide glides.Glide
		want  []string
	}{
		{library("median-wrist"), nil},
		{library("median-elbow"), []string{library("median-elbow").Caution}},
		{library("median-neck"), []string{NeckGlide()}},
		{glides.Glide{Neck: true}, []string{NeckGlide()}},
		{glides.Glide{Neck: true, Caution: "Only seated."}, []string{NeckGlide(), "Only seated."}},
	} {
		if got := OfGlide(c.glide); !slices.Equal(got, c.want) {
			t.Errorf("%s, neck %t: %q, want %q", c.glide.Name, c.glide.Neck, got, c.want)
		}
	}
}

// The README tells a patient the same.
func TestReadmeHasTheLists(t *testing.T) {
	data, err := os.ReadFile(filepath.Join("..", "..", "README.md"))
	if err != nil {
		t.Fatal(err)
	}
	_, section, found := strings.Cut(string(data), "\n## Cautions\n")
	section, _, ends := strings.Cut(section, "\n## ")
	if !found || !ends {
		t.Fatal("README.md has no section of cautions")
	}
	for _, l := range Everything(true) {
		if !strings.Contains(section, "**"+l.Title+"**") {
			t.Errorf("README.md has no list %q", l.Title)
		}
		for _, item := range l.Items {
			if !strings.Contains(section, "\n- "+item+"\n") {
				t.Errorf("README.md, %s, has not %q", l.Title, item)
			}
		}
	}
}
