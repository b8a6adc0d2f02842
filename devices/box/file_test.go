package box

import (
	"bytes"
	"errors"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"
	"unicode"

	"glidepace/sessions"
	"glidepace/sessions/fields"
	"glidepace/sessions/fields/fieldstest"
)

const badFiles = "testdata/bad"

var update = flag.Bool("update", false, "keep what is said of the bad box files")

func readFile(t testing.TB, name string) []byte {
	t.Helper()
	src, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	return src
}

func TestBadFiles(t *testing.T) {
	fieldstest.Check(t, badFiles, *update, func(t *testing.T, name string, src []byte) string {
		f, err := Parse(name, bytes.NewReader(src))
		if f != nil || err == nil {
			t.Fatalf("got %+v, %v", f, err)
		}
		checkError(t, err)
		return err.Error() + "\n"
	})
}

func TestGoodFiles(t *testing.T) {
	for name, set := range map[string]func(f *File){
		"minimal.yaml": func(f *File) { f.Name = "Box 3" },
		"all.yaml": func(f *File) {
			*f = File{Name: "Box 12: left-handed, to go", Session: "loan/first week.yaml", Diary: "loan/diary-7.db",
				Buzzer: "GPIO12", Button: "GPIO8", Light: "GPIO21", Lead: 55 * time.Millisecond,
				Sound: "off", Volume: new(0), BatteryClock: true}
		},
		"limits.yaml": func(f *File) {
			f.Name, f.Buzzer, f.Button, f.Light = "B", "GPIO9", "GPIO4", "GPIO16"
			f.Lead, f.Sound, f.Volume = 100*time.Millisecond, "pulse", new(100)
		},
		"swapped.yaml": func(f *File) { f.Name, f.Buzzer, f.Button, f.Lead = "Box 4", "GPIO27", "GPIO17", 0 },
	} {
		want := File{Session: "session.yaml", Diary: "diary.db", Buzzer: "GPIO17", Button: "GPIO27", Light: "GPIO22", Lead: 30 * time.Millisecond, Sound: "auto"}
		set(&want)
		got, err := Parse(name, bytes.NewReader(readFile(t, filepath.Join("testdata", "good", name))))
		if err != nil {
			t.Error(err)
		} else if !reflect.DeepEqual(*got, want) {
			t.Errorf("%s: got %+v, want %+v", name, *got, want)
		}
	}
}

// The file that the package's documentation shows is one that says the
// defaults again.
func TestFileInTheDocumentation(t *testing.T) {
	var src strings.Builder
	for line := range strings.Lines(string(readFile(t, "doc.go"))) {
		if code, ok := strings.CutPrefix(line, "//\t"); ok {
			src.WriteString(code)
		}
	}
	got, err := Parse("doc.go", strings.NewReader(src.String()))
	if err != nil {
		t.Fatal(err)
	}
	want := Default
	want.Name, want.Volume = "Box 3", got.Volume
	if !reflect.DeepEqual(*got, want) || got.Volume == nil {
		t.Errorf("got %+v, want %+v", *got, want)
	}
}

func TestBoxFileIsNoSessionFile(t *testing.T) {
	s, err := sessions.Parse("box.yaml", bytes.NewReader(readFile(t, "testdata/good/minimal.yaml")))
	const want = `box.yaml:1:16: this is a box file; give a session file, which begins with "glidepace: 1"`
	if s != nil || err == nil || err.Error() != want {
		t.Errorf("got %v, %v", s, err)
	}
}

// Each GPIO has a pin of the header of its own, and none the pin of a supply or
// of ground (common knowledge, no source).
func TestHeaderPin(t *testing.T) {
	taken := map[int]string{}
	for _, pin := range []int{1, 2, 4, 6, 9, 14, 17, 20, 25, 30, 34, 39} {
		taken[pin] = "supply or ground"
	}
	for n := range 28 {
		pin := headerPin(gpio(n))
		if pin < 1 || pin > 40 || taken[pin] != "" {
			t.Errorf("%s stands at header pin %d (%s)", gpio(n), pin, taken[pin])
		}
		taken[pin] = gpio(n)
	}
	for name, want := range map[string]int{
		"GPIO2": 3, "GPIO14": 8, "GPIO17": 11, "GPIO27": 13, "GPIO22": 15, "GPIO18": 12, "GPIO21": 40,
		"GPIO28": 0, "gpio17": 0, "17": 0, "": 0, "GPIO-1": 0, "GPIO017": 0,
	} {
		if got := headerPin(name); got != want {
			t.Errorf("%q stands at header pin %d, want %d", name, got, want)
		}
	}
}

// What may be on while a board boots is refused for buzzer and light: GPIO 0–8
// are pulled up, 9–27 down (BCM2835 ARM Peripherals, table 6-31, read in a
// secondary text). The other lists are common practice, no source.
func TestEveryPin(t *testing.T) {
	for n := range 28 {
		reserved := n <= 3 || n == 14 || n == 15
		for part, may := range map[string]bool{"button": !reserved, "buzzer": !reserved && n >= 9, "light": !reserved && n >= 9} {
			// The other two are where nothing asks for them.
			src := "glidepace-box: 1\nname: B\n"
			for i, p := range []string{"buzzer", "button", "light"} {
				pin := 24 + i
				if p == part {
					pin = n
				} else if pin == n {
					pin = 23
				}
				src += fmt.Sprintf("%s: {pin: GPIO%d}\n", p, pin)
			}
			if _, err := Parse("x", strings.NewReader(src)); (err == nil) != may {
				t.Errorf("%s at GPIO%d: %v, want it allowed: %t", part, n, err, may)
			}
		}
	}
}

// checkError fails unless err is a well-formed report.
func checkError(t *testing.T, err error) {
	t.Helper()
	var e *fields.Error
	if !errors.As(err, &e) || len(e.Problems) == 0 {
		t.Fatalf("%#v is no *fields.Error with problems", err)
	}
	for _, p := range e.Problems {
		if p.Line < 1 || p.Column < 1 {
			t.Errorf("%v is not counted from 1", p.Place)
		}
		if p.Text == "" || strings.IndexFunc(p.Text, func(r rune) bool { return !unicode.IsPrint(r) }) >= 0 || len(p.Text) > 700 {
			t.Errorf("not one line that prints: %q", p.Text)
		}
	}
}

func FuzzParse(f *testing.F) {
	good, err := filepath.Glob("testdata/good/*.yaml")
	if err != nil || len(good) == 0 {
		f.Fatalf("no good box files: %v", err)
	}
	for _, name := range good {
		f.Add(readFile(f, name))
	}
	for _, src := range fieldstest.Bad(f, badFiles) {
		f.Add(src)
	}
	f.Fuzz(func(t *testing.T, src []byte) {
		b, err := Parse("x", bytes.NewReader(src))
		if err != nil {
			checkError(t, err)
			return
		}
		pins := []int{headerPin(b.Buzzer), headerPin(b.Button), headerPin(b.Light)}
		slices.Sort(pins)
		local := filepath.IsLocal(b.Session) && filepath.IsLocal(b.Diary) && b.Session != b.Diary
		if b.Name == "" || pins[0] == 0 || len(slices.Compact(pins)) != 3 || !local || !slices.Contains(sounds, b.Sound) ||
			b.Lead < 0 || b.Lead > 100*time.Millisecond || b.Volume != nil && (*b.Volume < 0 || *b.Volume > 100) {
			t.Errorf("not what a box file may say: %+v", *b)
		}
	})
}
