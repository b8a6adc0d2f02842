package sessions_test

import (
	"regexp"
	"strings"
	"testing"
)

func TestHashOfOneThingWrittenInSeveralWays(t *testing.T) {
	want := parse(t, "first-week.yaml").Hash()
	for _, name := range []string{"good/windows.yaml", "good/json.yaml"} {
		if got := parse(t, name).Hash(); got != want {
			t.Errorf("%s: got %s, want %s", name, got, want)
		}
	}
	// Diaries hold hashes: another one for the same file means a new version.
	if want != "v1-d8aa3844a362a00c284a388c57750ba0" {
		t.Errorf("the hash of first-week.yaml is now %s", want)
	}
	if !regexp.MustCompile(`^v1-[0-9a-f]{32}$`).MatchString(want) {
		t.Errorf("%q does not look as documented", want)
	}
}

func TestWhatEntersTheHash(t *testing.T) {
	files := map[string]string{}
	for _, name := range []string{"first-week.yaml", "sixth-week.yaml"} {
		files[name] = string(readFile(t, "../testdata/sessions/"+name))
	}
	for _, c := range []struct {
		file, old, new string
		enters         bool
	}{
		{"first-week.yaml", "title: First", "title: Second", false},
		{"first-week.yaml", "K-204", "K-205", false},
		{"first-week.yaml", "per_day: 2", "per_day: 3", false},
		{"first-week.yaml", "reps: 10", "reps: 10\n    note: slowly", false},
		{"first-week.yaml", "pause: 0.5s", "pause: 500ms", false},
		{"first-week.yaml", "rate: 8", "rate: 8.0", false},
		{"first-week.yaml", `"1:1.5"`, "0.2:0.3", false},
		{"first-week.yaml", "    set_up: 15s", "    pause_at: end", false}, // both as they are without
		{"first-week.yaml", "rate: 8", "rate: 8.1", true},
		{"first-week.yaml", `"1:1.5"`, `"1:1.6"`, true},
		{"first-week.yaml", `  ratio: "1:1.5"`, "", true},
		{"first-week.yaml", "exhale-on-glide", "breath-per-rep", true},
		{"first-week.yaml", "pause: 0.5s", "pause: 0.4s", true},
		{"first-week.yaml", "from: 12", "from: 11", true},
		{"first-week.yaml", "breaths: 9}\nlead", "breaths: 10}\nlead", true},
		{"first-week.yaml", "lead_in: {breaths: 9}", "lead_in: {breaths: 8}", true},
		{"first-week.yaml", "median-wrist", "radial-wrist", true},
		{"first-week.yaml", "side: right", "side: left", true},
		{"first-week.yaml", "sets: 1", "sets: 2", true},
		{"first-week.yaml", "reps: 10", "reps: 9", true},
		{"first-week.yaml", "rest: 30s", "rest: 31s", true},
		{"first-week.yaml", "    set_up: 15s", "    set_up: 16s", true},
		{"first-week.yaml", "    set_up: 15s", "    pause_at: both", true},
		{"sixth-week.yaml", "inhale: 5s", "inhale: 5000ms", false},
		{"sixth-week.yaml", "table as the", "\n        table  as the", false},
		{"sixth-week.yaml", "inhale: 5s", "inhale: 5.1s", true},
		{"sixth-week.yaml", "exhale: 6s", "exhale: 6.1s", true},
		{"sixth-week.yaml", "Table slide", "table slide", true},
		{"sixth-week.yaml", "palm down", "palm up", true},
		{"sixth-week.yaml", "slides forward", "slides", true},
		{"sixth-week.yaml", "back towards you", "back", true},
		{"sixth-week.yaml", "set_up: 20s", "set_up: 25s", true},
	} {
		old := files[c.file]
		if strings.Count(old, c.old) != 1 {
			t.Fatalf("%q is not once in %s", c.old, c.file)
		}
		s := parseText(t, strings.Replace(old, c.old, c.new, 1))
		if changed := s.Hash() != parse(t, c.file).Hash(); changed != c.enters {
			t.Errorf("%s, %q → %q: hash changed: %t, want %t", c.file, c.old, c.new, changed, c.enters)
		}
	}
}
