package loan

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"glidepace/devices/box"
	"glidepace/sessions"
	"glidepace/sessions/diary"
)

func do(t *testing.T, errs ...error) {
	t.Helper()
	if err := errors.Join(errs...); err != nil {
		t.Fatal(err)
	}
}

const boxYAML = "glidepace-box: 1\nname: Box 3\n"

const sessionYAML = `glidepace: 1
title: First week, right hand
patient: %s
breath: {rate: 8}
sounds: {cues: spoken}
exercises: [{glide: median-wrist, side: right, reps: 5}]
`

// sample is a loan of six weeks with two recordings.
func sample(patient string) Contents {
	out := time.Date(2026, 12, 1, 9, 30, 0, 0, time.FixedZone("", 3600))
	return Contents{
		Box: []byte(boxYAML), Session: fmt.Appendf(nil, sessionYAML, patient), Patient: patient,
		Recordings: []Recording{{"spoken/breathe-in.wav", bytes.Repeat([]byte("in"), chunk)}, {"spoken/out.wav", []byte("out")}},
		Out:        out, Due: sessions.DateOf(out).AddDays(42),
	}
}

func load(t *testing.T, folder, patient string) *Record {
	t.Helper()
	loan, err := Load(folder, sample(patient))
	do(t, err)
	return loan
}

// note is what the patient of use had to say.
const note = "the hand was cold, wore gloves"

// use does with a card what a patient does: one session to the end, with a
// note, and one that is cut off. It returns them.
func use(t *testing.T, folder, patient string) []diary.Session {
	t.Helper()
	d, err := diary.Options{Card: true}.Open(filepath.Join(folder, "diary.db"))
	do(t, err)
	defer d.Close()
	for i := range 2 {
		s := &diary.Session{
			Title: "First week, right hand", Patient: patient, Prescription: "5f1c",
			Planned: diary.Amount{Sets: 1, Repetitions: 5, Breaths: 5}, Sound: "off", Match: "exhale-on-glide",
			Boot: &diary.Boot{ID: "3f2a91c0", Since: 60},
		}
		r, err := d.Begin(s)
		do(t, err)
		for n := range 5 - 2*i {
			do(t, r.Event(diary.Event{At: time.Duration(10*n+10) * time.Second, Kind: diary.Repetition,
				Exercise: 1, Side: "right", Set: 1, Rep: n + 1, Done: diary.Amount{Repetitions: n + 1, Breaths: n + 1}}))
		}
		if i == 0 {
			do(t, r.End(diary.Ending{At: time.Minute, Outcome: sessions.Completed, Done: diary.Amount{Sets: 1, Repetitions: 5, Breaths: 5}}))
			_, err = d.Note(s.ID, note, time.Time{})
			do(t, err)
		} else {
			r.Leave()
		}
	}
	do(t, d.Close())
	return inDiary(t, filepath.Join(folder, "diary.db"))
}

// inDiary returns the sessions of a diary with their events, none where there is
// no diary. It is copied first, so that it is left as it is.
func inDiary(t *testing.T, path string) []diary.Session {
	t.Helper()
	copied := filepath.Join(t.TempDir(), "diary.db")
	for _, ending := range []string{"", "-journal", "-wal"} {
		text, err := os.ReadFile(path + ending)
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		do(t, err, os.WriteFile(copied+ending, text, 0o600))
	}
	d, err := diary.Options{Card: true}.OpenExisting(copied)
	var none *diary.NoDiaryError
	if errors.As(err, &none) {
		return nil
	}
	do(t, err)
	defer d.Close()
	list, err := d.List(diary.Filter{})
	do(t, err)
	for i, s := range list {
		list[i], err = d.Show(s.ID)
		do(t, err)
	}
	return list
}

// snapshot is what a folder holds: content by path.
func snapshot(t *testing.T, dir string) map[string]string {
	t.Helper()
	files := map[string]string{}
	do(t, filepath.WalkDir(dir, func(name string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		text, err := os.ReadFile(name)
		rel, _ := filepath.Rel(dir, name)
		files[filepath.ToSlash(rel)] = string(text)
		return err
	}))
	return files
}

func names(files map[string]string) []string {
	var list []string
	for name := range files {
		list = append(list, name)
	}
	slices.Sort(list)
	return list
}

func asText(t *testing.T, v any) string {
	t.Helper()
	text, err := json.Marshal(v)
	do(t, err)
	return string(text)
}

func same(t *testing.T, what string, got, want any) {
	t.Helper()
	if g, w := asText(t, got), asText(t, want); g != w {
		t.Errorf("%s:\n%s\nwant\n%s", what, g, w)
	}
}

func TestLoan(t *testing.T) {
	card, clinic := t.TempDir(), filepath.Join(t.TempDir(), "clinic.db")
	for _, patient := range []string{"K-204", "K-311"} {
		loan := load(t, card, patient)
		read, err := Read(card)
		do(t, err)
		same(t, "the record", read, loan)
		if loan.Box != "Box 3" || loan.Due.String() != "2027-01-12" || loan.Loading {
			t.Errorf("%+v", loan)
		}
		files := snapshot(t, card)
		same(t, "loaded", names(files), []string{"box.yaml", "diary.db", "diary.db-journal", "loan.yaml", "session.yaml", "spoken/breathe-in.wav", "spoken/out.wav"})
		if files["session.yaml"] != fmt.Sprintf(sessionYAML, patient) || files["box.yaml"] != boxYAML || files["spoken/out.wav"] != "out" {
			t.Errorf("loaded: %v", files)
		}

		done := use(t, card, patient)
		before := snapshot(t, card)
		if _, err := Load(card, sample("K-999")); err == nil || !strings.Contains(err.Error(), "bring it back first") {
			t.Errorf("a card that is lent is loaded: %v", err)
		}
		same(t, "a card that is lent", snapshot(t, card), before)

		r, err := Back(card, clinic, false)
		do(t, err)
		if r.New != (patient == "K-204") {
			t.Errorf("%s: the clinic's diary is new: %v", patient, r.New)
		}
		if r.Record.Patient != patient || r.Added != 2 || r.Extended != 0 || !r.Merged || r.NoDiary || r.Session == nil || r.Looked != 1 || r.Traces != nil {
			t.Errorf("%+v", r)
		}
		want := done
		for i := range r.Sessions {
			want[i].Events = nil
		}
		same(t, "sessions", r.Sessions, want)
		if r.Sessions[1].Outcome != sessions.Interrupted {
			t.Errorf("a session that was cut off is %q", r.Sessions[1].Outcome)
		}
		same(t, "on the card", snapshot(t, card), map[string]string{"box.yaml": boxYAML})

		clinics := snapshot(t, filepath.Dir(clinic))
		r, err = Back(card, clinic, false)
		do(t, err)
		same(t, "once more", r, Returned{Nothing: true})
		same(t, "the clinic's diary", snapshot(t, filepath.Dir(clinic)), clinics)
	}
	if n := len(inDiary(t, clinic)); n != 4 {
		t.Errorf("the clinic has %d sessions, want 4", n)
	}
}

// What is removed was overwritten before.
func TestWipedIsZero(t *testing.T) {
	card := t.TempDir()
	load(t, card, "K-204")
	use(t, card, "K-204")
	removed := 0
	operation = func(what string) {
		name, ok := strings.CutPrefix(what, "remove ")
		if !ok || strings.HasPrefix(name, "folder") {
			return
		}
		removed++
		text, err := os.ReadFile(filepath.Join(card, name))
		do(t, err)
		if strings.Trim(string(text), "\x00") != "" {
			t.Errorf("%s was removed with its content", name)
		}
	}
	defer func() { operation = func(string) {} }()
	_, err := Back(card, filepath.Join(t.TempDir(), "clinic.db"), false)
	do(t, err)
	if removed < 6 {
		t.Errorf("%d files were removed", removed)
	}
}

// A box that lost its power in a session leaves a journal with old pages in it.
func TestJournalIsWiped(t *testing.T) {
	running, card := t.TempDir(), t.TempDir()
	load(t, running, "K-204")
	d, err := diary.Options{Card: true}.Open(filepath.Join(running, "diary.db"))
	do(t, err)
	defer d.Close()
	r, err := d.Begin(&diary.Session{Title: "First week, right hand", Patient: "K-204", Prescription: "5f1c", Sound: "off", Boot: &diary.Boot{ID: "3f2a91c0"}})
	do(t, err)
	for n := range 2 {
		do(t, r.Event(diary.Event{At: time.Duration(n) * time.Second, Kind: diary.Repetition, Exercise: 1, Set: 1, Rep: n + 1}))
	}
	do(t, os.CopyFS(card, os.DirFS(running))) // as the power cut leaves it
	r.Leave()
	const journal = "diary.db-journal"
	if !strings.Contains(snapshot(t, card)[journal], "K-204") {
		t.Fatal("the journal held no patient code: this shows nothing")
	}
	removed := false
	operation = func(what string) {
		if what == "remove "+journal {
			removed = true
			if strings.Trim(snapshot(t, card)[journal], "\x00") != "" {
				t.Error("the journal was removed with its content")
			}
		}
	}
	defer func() { operation = func(string) {} }()
	back, err := Back(card, filepath.Join(t.TempDir(), "clinic.db"), false)
	do(t, err)
	if !removed || !slices.Contains(back.Wiped, journal) || back.Added != 1 || back.Traces != nil {
		t.Errorf("removed: %v; %+v", removed, back)
	}
	same(t, "on the card", names(snapshot(t, card)), []string{box.FileName})
}

func TestLoadRefuses(t *testing.T) {
	for name, c := range map[string]struct {
		prepare func(card string, l *Contents)
		want    string
	}{
		"no box file":    {func(_ string, l *Contents) { l.Box = nil }, "no box file"},
		"a bad box file": {func(_ string, l *Contents) { l.Box = []byte("glidepace-box: 1\n") }, "name"},
		"no card":        {func(card string, _ *Contents) { os.Remove(card) }, "is the card in?"},
		"a diary in use": {func(card string, _ *Contents) { use(t, card, "K-204") }, "has sessions (2): bring it back first"},
		"not a diary": {func(card string, _ *Contents) {
			os.WriteFile(filepath.Join(card, "diary.db"), []byte("my diary, since my childhood days"), 0o600)
		}, "diary.db"},
		"a diary that the card's own box file names": {func(card string, l *Contents) {
			use(t, card, "K-204")
			os.WriteFile(filepath.Join(card, "box.yaml"), l.Box, 0o600)
			l.Box = []byte(boxYAML + "diary: another.db\n")
		}, "has sessions (2)"},
		"a record that cannot be read": {func(card string, _ *Contents) {
			os.WriteFile(filepath.Join(card, RecordName), []byte("glidepace-loan: 7\n"), 0o600)
		}, "bring it back first"},
		"a session file of no loan": {func(card string, _ *Contents) {
			os.WriteFile(filepath.Join(card, "session.yaml"), []byte("by hand"), 0o600)
		}, "session.yaml is there already"},
		"a session file of no loan, where the card's own box file has it": {func(card string, l *Contents) {
			os.WriteFile(filepath.Join(card, "session.mine"), []byte("by hand"), 0o600)
			os.WriteFile(filepath.Join(card, "box.yaml"), []byte(boxYAML+"session: session.mine\n"), 0o600)
		}, "session.mine is there already"},
		"a recording of no loan": {func(card string, _ *Contents) {
			os.Mkdir(filepath.Join(card, "spoken"), 0o700)
			os.WriteFile(filepath.Join(card, "spoken", "out.wav"), []byte("by hand"), 0o600)
		}, "out.wav is there already"},
		"the box file of another box": {func(card string, _ *Contents) {
			os.WriteFile(filepath.Join(card, box.FileName), []byte("glidepace-box: 1\nname: Box 2\n"), 0o600)
		}, "of Box 2 (buzzer GPIO17, button GPIO27, light GPIO22), and the one to be loaded is of Box 3 (buzzer GPIO17, button GPIO27, light GPIO22)"},
		"a box file with other pins": {func(card string, _ *Contents) {
			os.WriteFile(filepath.Join(card, box.FileName), []byte(boxYAML+"light: {pin: GPIO23}\n"), 0o600)
		}, "light GPIO23"},
		"what to look for again": {func(card string, _ *Contents) {
			os.WriteFile(filepath.Join(card, AgainName), nil, 0o600)
		}, "bring it back first"},
		"a recording outside":   {func(_ string, l *Contents) { l.Recordings[0].Path = "../in.wav" }, `"../in.wav" is not a path`},
		"two of one name":       {func(_ string, l *Contents) { l.Recordings[0].Path = "SESSION.yaml" }, "two files"},
		"named like the record": {func(_ string, l *Contents) { l.Box = []byte(boxYAML + "session: Loan.yaml\n") }, "two files"},
	} {
		card, l := filepath.Join(t.TempDir(), "card"), sample("K-311")
		do(t, os.Mkdir(card, 0o700))
		c.prepare(card, &l)
		_, err := Load(card, l)
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", name, err, c.want)
		}
		if text, err := os.ReadFile(filepath.Join(card, "session.yaml")); err == nil && string(text) != "by hand" {
			t.Errorf("%s: the card has a session file", name)
		}
	}
}

// The box file of another box is replaced when that is wanted, and that of the
// same box, when something other than the pins has changed.
func TestLoadReplacesTheBoxFile(t *testing.T) {
	for was, replace := range map[string]bool{
		"glidepace-box: 1\nname: Box 2\n":        true,
		boxYAML + "buzzer: {pin: GPIO18}\n":      true,
		boxYAML + "buzzer: {lead: 40ms}\n":       false,
		"glidepace-box: 1\nname: [not, right]\n": false,
	} {
		card, l := t.TempDir(), sample("K-204")
		do(t, os.WriteFile(filepath.Join(card, box.FileName), []byte(was), 0o600))
		l.ReplaceBox = replace
		_, err := Load(card, l)
		do(t, err)
		same(t, was, snapshot(t, card)[box.FileName], boxYAML)
	}
}

func TestBackRefuses(t *testing.T) {
	card := t.TempDir()
	clinic := filepath.Join(t.TempDir(), "clinic.db")
	if _, err := Back(card, clinic, false); err == nil || !strings.Contains(err.Error(), "neither a box file nor a loan record") {
		t.Errorf("a folder that is no card: %v", err)
	}
	load(t, card, "K-204")
	use(t, card, "K-204")
	before := snapshot(t, card)
	if _, err := Back(card, filepath.Join(card, "absent", "clinic.db"), false); err == nil || !strings.Contains(err.Error(), "would be on the card") {
		t.Errorf("the clinic's diary in a folder that would be on the card: %v", err)
	}
	if _, err := Back(card, filepath.Join(card, "spoken", "clinic.db"), false); err == nil || !strings.Contains(err.Error(), "would be on the card") {
		t.Errorf("the clinic's diary on the card: %v", err)
	}
	do(t, os.WriteFile(clinic, []byte("not a diary, whatever else it is"), 0o600))
	if r, err := Back(card, clinic, false); err == nil || r.Merged {
		t.Errorf("merged into what is no diary: %v", err)
	}
	same(t, "the card", snapshot(t, card), before)
	for _, below := range []string{"", "home"} {
		above, hint := t.TempDir(), "give the card's folder"
		if below != "" {
			folder := filepath.Join(above, below)
			hint = "there is a box.yaml in " + folder
			do(t, os.Mkdir(folder, 0o700), os.WriteFile(filepath.Join(folder, box.FileName), []byte(boxYAML), 0o600))
		}
		if _, err := Back(above, clinic, false); err == nil || !strings.Contains(err.Error(), hint) {
			t.Errorf("%v, want %q", err, hint)
		}
	}

	// A diary that is damaged is never wiped.
	do(t, os.WriteFile(filepath.Join(card, "diary.db"), []byte("SQLite format 3\x00 and then nothing"), 0o600))
	before = snapshot(t, card)
	clinic = filepath.Join(t.TempDir(), "clinic.db")
	if r, err := Back(card, clinic, false); err == nil || !strings.Contains(err.Error(), "nothing was wiped") || r.Merged {
		t.Errorf("a damaged diary: %v", err)
	}
	same(t, "the card", snapshot(t, card), before)

	// Once it was moved away the rest can be wiped.
	do(t, os.Remove(filepath.Join(card, "diary.db")))
	r, err := Back(card, clinic, true)
	do(t, err)
	if !r.NoDiary || r.Sessions != nil {
		t.Errorf("%+v", r)
	}
	same(t, "the card", names(snapshot(t, card)), []string{"box.yaml"})
}

// Without a record, or with one that cannot be read, the box file says where
// all is.
func TestBackWithoutARecord(t *testing.T) {
	for _, record := range []string{"", "glidepace-loan: 7\n"} {
		card, clinic := t.TempDir(), filepath.Join(t.TempDir(), "clinic.db")
		load(t, card, "K-204")
		do(t, os.Remove(filepath.Join(card, RecordName)), os.WriteFile(filepath.Join(card, RecordName+".new"), []byte("K-2"), 0o600))
		if record != "" {
			do(t, os.WriteFile(filepath.Join(card, RecordName), []byte(record), 0o600))
		}
		use(t, card, "K-204")
		r, err := Back(card, clinic, false)
		do(t, err)
		if r.Record != nil || r.Added != 2 {
			t.Errorf("%+v", r)
		}
		same(t, "the card", names(snapshot(t, card)), []string{"box.yaml", "spoken/breathe-in.wav", "spoken/out.wav"})
	}
}

func TestTraces(t *testing.T) {
	card := t.TempDir()
	load(t, card, "K-204")
	done := use(t, card, "K-204")
	for name, text := range map[string]string{
		"kept.txt":                   "asked K-204 to call",
		"k-204.txt":                  "",
		"spoken/MARK K-204":          "",
		"kernel.img":                 "\x00\x01\x02 K-204 \x00",
		"log":                        strings.Repeat("x", 1<<20-3) + "\n" + done[0].ID + "\n",
		"fine":                       "K-2041 xK-204 K204 pin 17",
		"with a note.txt":            "he said " + note + ".",
		"FIRST WEEK, RIGHT HAND.pdf": "",
	} {
		do(t, os.WriteFile(filepath.Join(card, name), []byte(text), 0o600))
	}
	r, err := Back(card, filepath.Join(t.TempDir(), "clinic.db"), false)
	do(t, err)
	var got []string
	for _, f := range r.Traces {
		got = append(got, fmt.Sprintf("%s: %s, name %v", f.File, f.What, f.Name))
	}
	same(t, "traces", got, []string{
		"FIRST WEEK, RIGHT HAND.pdf: the session's title, name true",
		"k-204.txt: the patient code, name true",
		"kept.txt: the patient code, name false",
		"kernel.img: the patient code, name false",
		"log: the ID of a session, name false",
		"spoken/MARK K-204: the patient code, name true",
		"with a note.txt: a note, name false",
	})
	if r.Looked != 9 {
		t.Errorf("looked through %d files, want 9", r.Looked)
	}

	// They are looked for until they are gone, also where another diary than
	// the one that knows of them is the clinic's.
	clinic := filepath.Join(t.TempDir(), "clinic.db")
	if text := snapshot(t, card)[AgainName]; strings.Contains(text, done[1].ID) || !strings.Contains(text, note) {
		t.Errorf("kept is what was not found, or not what was:\n%s", text)
	}
	if _, err := Load(card, sample("K-311")); err == nil || !strings.Contains(err.Error(), "may hold traces of the loan before: bring it back first") {
		t.Errorf("a card with traces is loaded: %v", err)
	}
	traces := r.Traces
	for i := range 2 {
		before := snapshot(t, card)
		r, err = Back(card, clinic, false)
		do(t, err)
		same(t, "again", r, Returned{Again: true, Merged: true, NoDiary: true, New: i == 0, Looked: 9, Traces: traces})
		same(t, "again, the card", snapshot(t, card), before)
	}
	for _, f := range traces[1:] {
		do(t, os.Remove(filepath.Join(card, f.File)))
	}
	r, err = Back(card, clinic, false)
	do(t, err)
	same(t, "one is left", r.Traces, traces[:1])
	do(t, os.Remove(filepath.Join(card, traces[0].File)))
	r, err = Back(card, clinic, false)
	do(t, err)
	same(t, "none is left", r, Returned{Again: true, Merged: true, NoDiary: true, Looked: 2, Wiped: []string{AgainName}})
	r, err = Back(card, clinic, false)
	do(t, err)
	same(t, "once more", r, Returned{Nothing: true})
	load(t, card, "K-311")
}

func TestStandsIn(t *testing.T) {
	for content, want := range map[string]bool{
		"12": true, " 12 ": true, "a_12.": true, "GPIO12": false, "123": false, "112": false, "112 12": true,
		"": false, "1": false, "é12": false, "12é": false, "\x0012\xff": true,
	} {
		if got := standsIn([]byte(content), "12"); got != want {
			t.Errorf("%q: %v", content, got)
		}
	}
}

// nothing is excepted from looking.
func nothing(string, fs.DirEntry) bool { return false }

// A short code is not looked for in programs and pictures, where it stands by
// chance.
func TestShortCodes(t *testing.T) {
	card := t.TempDir()
	do(t, os.WriteFile(filepath.Join(card, "kernel.img"), []byte("\x00 12 \x00"), 0o600),
		os.WriteFile(filepath.Join(card, "config.txt"), []byte("pin=12\n"), 0o600))
	c, err := openCard(card)
	do(t, err)
	defer c.root.Close()
	var s search
	s.add("12", patientCode)
	s.add("ok", "a note")
	s.add("", patientCode)
	l, err := s.look(c.root.FS(), limits{}, nothing)
	do(t, err)
	same(t, "found", l.traces, []Trace{{"config.txt", patientCode, false}})
	if l.files != 2 || len(s) != 1 {
		t.Errorf("%d files, %v", l.files, s)
	}
}

func TestLoanRecord(t *testing.T) {
	l := &Record{Box: "Box: 3", Patient: "007", Out: time.Date(2026, 12, 1, 9, 30, 0, 0, time.UTC), Due: sessions.DateOf(time.Date(2026, 12, 29, 0, 0, 0, 0, time.UTC)),
		Files: Files{"s.yaml", "d/diary.db", []string{"spoken/in.wav"}}}
	read, err := parseRecord(l.content())
	do(t, err)
	same(t, "read", read, l)
	begun := &Record{Loading: true, Patient: "007", Files: l.Files}
	if text := string(begun.content()); strings.Contains(text, "007") || !strings.Contains(text, "state: loading") {
		t.Errorf("while loading: %s", text)
	}
	good := string(l.content())
	for _, change := range [][2]string{
		{"glidepace-loan: 1", "glidepace-loan: 2"}, {"state: out", "state: lost"}, {"2026-12-29", "soon"}, {"2026-12-01T", "yesterday "},
		{"s.yaml", "../s.yaml"}, {"s.yaml", "/s.yaml"}, {"s.yaml", "box.yaml"}, {"s.yaml", `""`}, {"d/diary.db", "S.yaml"}, {"spoken/in.wav", "spoken/../in.wav"},
		{"box:", "boxes:"},
	} {
		text := strings.Replace(good, change[0], change[1], 1)
		if text == good {
			t.Fatalf("nothing to change: %v in %s", change, good)
		}
		if l, err := parseRecord([]byte(text)); err == nil {
			t.Errorf("%v: %+v", change, l)
		}
	}
	if _, err := parseRecord(nil); err == nil {
		t.Error("nothing is a record")
	}
}
