package glides

import (
	"fmt"
	"io/fs"
	"path"
	"regexp"
	"slices"
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"

	"gopkg.in/yaml.v3"
)

// all returns the library and fails the test if there is nothing to test.
func all(t *testing.T) []Glide {
	t.Helper()
	gs := All()
	if len(gs) == 0 {
		t.Fatal("the library is empty")
	}
	return gs
}

func TestFilesAndNamesAgree(t *testing.T) {
	paths, err := fs.Glob(files, "*.yaml")
	if err != nil || len(paths) == 0 {
		t.Fatalf("no library files: %v", err)
	}
	for _, p := range paths {
		data, err := files.ReadFile(p)
		if err != nil {
			t.Fatal(err)
		}
		g, err := parse(data)
		if err != nil {
			t.Errorf("%s: %v", p, err)
			continue
		}
		if want := strings.TrimSuffix(path.Base(p), ".yaml"); g.Name != want {
			t.Errorf("%s: name is %q, want %q as the file is called", p, g.Name, want)
		}
		if !slices.Contains(Names(), g.Name) {
			t.Errorf("%s: %q is not in the list of names in library.go", p, g.Name)
		}
		// A forgotten yes or no would silently be a no.
		var keys map[string]any
		if err := yaml.Unmarshal(data, &keys); err != nil {
			t.Fatal(err)
		}
		for _, key := range []string{"raised", "both_ends", "neck"} {
			if _, ok := keys[key]; !ok {
				t.Errorf("%s: %s is missing: say true or false", p, key)
			}
		}
	}
	if len(paths) != len(Names()) {
		t.Errorf("%d files for %d names: %v", len(paths), len(Names()), Names())
	}
}

// The order itself is that of ExampleNames.
func TestFind(t *testing.T) {
	for i, g := range all(t) {
		if g.Name != Names()[i] {
			t.Errorf("All()[%d] is %q, want %q", i, g.Name, Names()[i])
		}
		if found, ok := Find(g.Name); !ok || found.Title != g.Title {
			t.Errorf("Find(%q) = %q, %v", g.Name, found.Title, ok)
		}
	}
	for _, name := range []string{"", "median", "Median-wrist", "median-wrist.yaml"} {
		if g, ok := Find(name); ok {
			t.Errorf("Find(%q) found %q", name, g.Name)
		}
	}
}

func TestCallersCannotDisturbTheLibrary(t *testing.T) {
	all(t)[0].Name = "changed"
	Names()[0] = "changed"
	if got := All()[0].Name; got != "median-wrist" {
		t.Errorf("All()[0] is now %q", got)
	}
	if got := Names()[0]; got != "median-wrist" {
		t.Errorf("Names()[0] is now %q", got)
	}
}

func TestParseIsStrict(t *testing.T) {
	for what, text := range map[string]string{
		"empty file":       "",
		"unknown key":      "name: x\nstrat: here\n",
		"repeated key":     "name: x\nname: y\n",
		"not a yes or no":  "name: x\nraised: perhaps\n",
		"second document":  "name: x\n---\nname: y\n",
		"unknown cue":      "name: x\ncues: {middle: there}\n",
		"not a mapping":    "- name: x\n",
		"broken second":    "name: x\n---\n\"\n",
		"list as a string": "name: [x]\n",
	} {
		if g, err := parse([]byte(text)); err == nil {
			t.Errorf("%s: parsed as %+v, want an error", what, g)
		}
	}
}

// The facts that make each glide what it is.
func TestFacts(t *testing.T) {
	const unreviewed = "from memory, to be reviewed by a clinician"
	facts := map[string]struct {
		kind                   string
		bothEnds, raised, neck bool
		caution                []string // what it must name; nil for none
		review                 string
		start, out, back       []string // what the texts must name
		easier                 string   // what is asked for first where it tingles
	}{
		"median-wrist": {kind: "single", raised: true, easier: "first lower the arm and let the elbow soften",
			start: []string{"out to the side", "comfortable height", "palm to face forward"},
			out:   []string{"bend the wrist back"},
			back:  []string{"hand relax"}},
		"median-elbow": {kind: "tensioner", easier: "make the movement smaller",
			caution: []string{"tensioner", "at the same time", "only if your clinician has taught it", "start small"},
			start:   []string{"at your side", "bend the elbow", "palm up"},
			out: []string{"straighten the elbow", "reaches forward", "wrist bends back", "fingers come to point down",
				"as high as it began", "elbow stays soft and does not lock"},
			back: []string{"undo both", "elbow bends", "wrist relaxes"}},
		"median-neck": {kind: "slider", bothEnds: true, raised: true, neck: true, easier: "make the movement smaller",
			caution: []string{"dizzy, unsteady or faint", "sight, speech or swallowing", "face numb", "neck injury", "stop at once", "sit down",
				"until your clinician has cleared it", "emergency services"},
			start: []string{"out to the side", "palm up"},
			out:   []string{"first let the hand loosen", "then slowly tip the head away from that arm"},
			back:  []string{"head comes up", "bend the wrist back"}},
		"median-slider": {kind: "slider", review: unreviewed, easier: "make the movement smaller",
			start: []string{"hang straight down", "palm to face forward", "loose"},
			out:   []string{"while the elbow bends, bend the wrist back", "fingers tip away from you", "fingertips that point at the shoulder are wrong"},
			back:  []string{"wrist relaxes while the elbow opens"}},
		"median-fingers": {kind: "single", review: unreviewed, easier: "make the movement smaller",
			start: []string{"on a table or on your thigh", "palm up", "side by side"},
			out:   []string{"spread the fingers"},
			back:  []string{"together again", "do not make a fist"}},
		"ulnar-elbow": {kind: "single", raised: true, review: unreviewed, out: []string{"bend the elbow", "wrist stays in line"}, easier: "first lower the arm"},
		"ulnar-slider": {kind: "slider", review: unreviewed, easier: "make the movement smaller",
			start: []string{"hang straight down", "palm to face forward", "loose"},
			out:   []string{"while the elbow bends, let the wrist bend toward the palm", "fingers that tip away from you are wrong"},
			back:  []string{"in line with the forearm, and no farther, while the elbow opens"}},
		"radial-wrist": {kind: "single", raised: true, review: unreviewed, out: []string{"bend the wrist"},
			easier: "first lower the arm and let the elbow soften"},
		"radial-slider": {kind: "slider", review: unreviewed, easier: "make the movement smaller",
			start: []string{"hang straight down", "only the forearm", "palm faces behind you", "loose"},
			out:   []string{"bend the elbow", "while the forearm rises, let the hand hang down"},
			back:  []string{"forearm sinks", "in line with it"}},
	}
	for _, g := range all(t) {
		f, ok := facts[g.Name]
		if !ok {
			t.Errorf("%s: no facts to test it against", g.Name)
			continue
		}
		if g.BothEnds != f.bothEnds || g.Raised != f.raised || g.Neck != f.neck {
			t.Errorf("%s: both ends %v, raised %v, neck %v; want %v, %v, %v", g.Name, g.BothEnds, g.Raised, g.Neck, f.bothEnds, f.raised, f.neck)
		}
		if g.Kind != f.kind {
			t.Errorf("%s: kind %q, want %q", g.Name, g.Kind, f.kind)
		}
		if (g.Caution == "") != (f.caution == nil) {
			t.Errorf("%s: caution %q, want it to name %q", g.Name, g.Caution, f.caution)
		}
		mentions(t, g.Name+": caution", g.Caution, f.caution)
		if g.Review != f.review {
			t.Errorf("%s: review %q, want %q", g.Name, g.Review, f.review)
		}
		if nerve, _, _ := strings.Cut(g.Name, "-"); g.Nerve != nerve {
			t.Errorf("%s: nerve %q, want %q", g.Name, g.Nerve, nerve)
		}
		if p := g.Posture.Position; !slices.Contains([]string{"sitting", "standing", "sitting or standing"}, p) {
			t.Errorf("%s: position %q", g.Name, p)
		}
		mentions(t, g.Name+": start", g.Start, f.start)
		mentions(t, g.Name+": out", g.Out, f.out)
		mentions(t, g.Name+": back", g.Back, f.back)
		watch := strings.ToLower(strings.Join(g.Watch, " "))
		mentions(t, g.Name+": watch", watch, []string{"if it tingles, " + f.easier, "shoulder low"})
		inOrder(t, g.Name+": watch", watch, "keeps rising", "smaller", "light touch of the other hand")
		if g.Raised {
			mentions(t, g.Name+": watch", watch, []string{"between hip and shoulder", "comfortable", "vary"})
			inOrder(t, g.Name+": watch", watch, "keeps rising", "lower the arm", "light touch of the other hand")
		}
	}
	neck, _ := Find("median-neck")
	mentions(t, "median-neck: watch", strings.Join(neck.Watch, " "), []string{"the two never pull together", "dizzy"})
	inOrder(t, "median-neck: out", strings.ToLower(neck.Out), "hand", "head")
	inOrder(t, "median-neck: cues.out", strings.ToLower(neck.Cues.Out), "hand", "head")
}

// inOrder wants phrases to follow each other in a text.
func inOrder(t *testing.T, where, text string, phrases ...string) {
	t.Helper()
	rest := text
	for _, p := range phrases {
		_, after, found := strings.Cut(rest, p)
		if !found {
			t.Errorf("%s does not say %q in this order: %q", where, phrases, text)
			return
		}
		rest = after
	}
}

func mentions(t *testing.T, where, text string, phrases []string) {
	t.Helper()
	for _, p := range phrases {
		if !strings.Contains(strings.ToLower(text), p) {
			t.Errorf("%s does not say %q: %q", where, p, text)
		}
	}
}

// field is one text of a glide with the most characters it may have.
type field struct {
	name, text string
	max        int
	optional   bool // it may be empty
}

// texts lists every text of a glide of the library.
func texts(g Glide) []field {
	p, c := g.Posture, g.Cues
	fields := []field{
		{"name", g.Name, 24, false},
		{"title", g.Title, 40, false},
		{"nerve", g.Nerve, 10, false},
		{"kind", g.Kind, 10, false},
		{"posture.position", p.Position, 20, false},
		{"posture.pelvis", p.Pelvis, 120, false},
		{"posture.low_back", p.LowBack, 120, false},
		{"posture.chest", p.Chest, 120, false},
		{"posture.shoulder_blades", p.ShoulderBlades, 120, false},
		{"posture.chin", p.Chin, 120, false},
		{"posture.spine", p.Spine, 120, false},
		{"start", g.Start, 400, false},
		{"out", g.Out, 400, false},
		{"back", g.Back, 400, false},
		{"cues.start", c.Start, 24, false},
		{"cues.end", c.End, 24, false},
		{"cues.out", c.Out, 40, false},
		{"cues.back", c.Back, 40, false},
		{"caution", g.Caution, 500, true},
		{"review", g.Review, 120, true},
	}
	for i, w := range g.Watch {
		fields = append(fields, field{fmt.Sprintf("watch[%d]", i), w, 160, false})
	}
	return fields
}

func TestTexts(t *testing.T) {
	for _, g := range all(t) {
		for _, f := range texts(g) {
			if n := utf8.RuneCountInString(f.text); n > f.max || n == 0 && !f.optional {
				t.Errorf("%s: %s has %d characters, at most %d: %q", g.Name, f.name, n, f.max, f.text)
			}
			for sentence := range strings.FieldsFuncSeq(f.text, func(r rune) bool { return r == '.' }) {
				if n := len(strings.Fields(sentence)); n > 30 {
					t.Errorf("%s: %s has a sentence of %d words, at most 30: %q", g.Name, f.name, n, sentence)
				}
			}
			// No control characters, none that turn the direction of text, and no
			// space but " ".
			if i := strings.IndexFunc(f.text, func(r rune) bool { return !unicode.IsPrint(r) }); i >= 0 || !utf8.ValidString(f.text) {
				t.Errorf("%s: %s has what does not print: %q", g.Name, f.name, f.text)
			}
			if f.text != strings.Join(strings.Fields(f.text), " ") {
				t.Errorf("%s: %s has more spaces than it needs: %q", g.Name, f.name, f.text)
			}
			for _, ban := range forbidden {
				if w := ban.words.FindString(f.text); w != "" {
					t.Errorf("%s: %s says %q (%s): %q", g.Name, f.name, w, ban.why, f.text)
				}
			}
		}
		for name, cue := range map[string]string{"start": g.Cues.Start, "end": g.Cues.End} {
			if n := len(strings.Fields(cue)); n > 4 {
				t.Errorf("%s: cues.%s has %d words, at most 4: %q", g.Name, name, n, cue)
			}
		}
		if g.Cues.Start == g.Cues.End {
			t.Errorf("%s: both ends are called %q", g.Name, g.Cues.Start)
		}
	}
}

var forbidden = []struct {
	words *regexp.Regexp
	why   string
}{
	{regexp.MustCompile(`(?i)\b(hold|held|stay there|as long as you can)`), "nothing is held, least of all the breath"},
	{regexp.MustCompile(`(?i)\bstretch`), "a glide is not a stretch"},
	{regexp.MustCompile(`(?i)\b(push|press|forc|strain|harder|as far as you can|as far as possible|through the pain)`), "a glide is gentle"},
	{regexp.MustCompile(`(?i)\b(breath|inhal|exhal)`), "the session file says how to breathe"},
	{regexp.MustCompile(`(?i)\b(second|minute|repetition|paus)`), "the session file says how long, how often and where it pauses"},
	{regexp.MustCompile(`(?i)\b(left|right)\b`), "the session file says which side"},
}

func TestForbiddenWordsAreFound(t *testing.T) {
	for _, text := range []string{
		"Hold your breath.", "Keep the wrist held back.", "Feel the stretch.", "Stretch the arm.", "Push a little more.",
		"Bend as far as you can.", "Force it.", "Exhale as you bend.", "Pause at the end.", "Lift the right arm.",
	} {
		found := false
		for _, ban := range forbidden {
			found = found || ban.words.MatchString(text)
		}
		if !found {
			t.Errorf("%q would be let through", text)
		}
	}
}
