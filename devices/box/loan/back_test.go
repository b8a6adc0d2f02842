package loan

import (
	"errors"
	"fmt"
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

func TestLoan(t *testing.T) {
	card, clinic := t.TempDir(), otherClinic(t)
	for _, patient := range []string{"K-204", "K-311"} {
		record := load(t, card, patient)
		read, err := Read(card)
		do(t, err)
		same(t, "the record", read, record)
		if record.Box != "Box 3" || record.Due.String() != "2027-01-12" || record.Loading {
			t.Errorf("%+v", record)
		}
		holds(t, "loaded", card, "box.yaml", "diary.db", "loan.yaml", "session.yaml", "spoken/breathe-in.wav", "spoken/out.wav")
		files := snapshot(t, card)
		if files["session.yaml"] != fmt.Sprintf(sessionYAML, patient) || files["box.yaml"] != boxYAML || files["spoken/out.wav"] != "out" {
			t.Errorf("loaded: %v", files)
		}

		done := use(t, card, patient)
		before := snapshot(t, card)
		_, err = Load(card, otherClinic(t), sample("K-999"))
		if notBack, ok := errors.AsType[*NotBackError](err); !ok || notBack.Folder != card {
			t.Errorf("a card that is lent is loaded: %v", err)
		}
		same(t, "a card that is lent", snapshot(t, card), before)

		r := back(t, card, clinic)
		if r.Record.Patient != patient || r.Added != 2 || r.Extended != 0 || !r.Merged || r.NoDiary || r.Session == nil || r.Looked != 1 || r.Traces != nil {
			t.Errorf("%+v", r)
		}
		want := slices.Clone(done)
		for i := range want {
			want[i].Events = nil
		}
		same(t, "sessions", r.Sessions, want)
		if r.Sessions[1].Outcome != sessions.Interrupted {
			t.Errorf("a session that was cut off is %q", r.Sessions[1].Outcome)
		}
		same(t, "on the card", snapshot(t, card), map[string]string{"box.yaml": boxYAML})

		clinics := snapshot(t, filepath.Dir(clinic))
		same(t, "once more", back(t, card, clinic), Returned{Nothing: true})
		same(t, "the clinic's diary", snapshot(t, filepath.Dir(clinic)), clinics)
	}
	if n := len(inDiary(t, clinic)); n != 4 {
		t.Errorf("the clinic has %d sessions, want 4", n)
	}
}

// What is removed was overwritten before, the journal too: a box that lost its
// power in a session leaves one with old pages in it.
func TestWipedIsZero(t *testing.T) {
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
	var emptied []string
	t.Cleanup(func() { operation = func(string) {} })
	operation = func(what string) {
		if name, ok := strings.CutPrefix(what, "empty "); ok {
			emptied = append(emptied, name)
			if strings.Trim(snapshot(t, card)[name], "\x00") != "" {
				t.Errorf("%s was emptied and not overwritten", name)
			}
		}
		if name, ok := strings.CutPrefix(what, "remove "); ok && !strings.HasPrefix(name, "folder") && !slices.Contains(emptied, name) {
			t.Errorf("%s was removed and not overwritten", name)
		}
	}
	returned := back(t, card, otherClinic(t))
	if len(emptied) < 7 || !slices.Contains(emptied, journal) || !slices.Contains(returned.Wiped, journal) || returned.Added != 1 || returned.Traces != nil {
		t.Errorf("emptied: %v; %+v", emptied, returned)
	}
	holds(t, "on the card", card, box.FileName)
}

func TestBackRefuses(t *testing.T) {
	card, clinic := t.TempDir(), otherClinic(t)
	lend(t, card)
	for _, name := range []string{"clinic.db", "absent/clinic.db", "spoken/clinic.db"} {
		before := snapshot(t, card)
		_, err := Back(card, filepath.Join(card, name), anyLoan)
		refused(t, "the clinic's diary on the card", err, "would be on the card: keep it in another place")
		same(t, "the card", snapshot(t, card), before)
	}
	put(t, filepath.Dir(clinic), "clinic.db", "not a diary, whatever else it is")
	before := snapshot(t, card)
	if r, err := Back(card, clinic, anyLoan); !errors.As(err, new(*diary.PlaceError)) || strings.Contains(err.Error(), "safe place") || r.Merged {
		t.Errorf("merged into what is no diary: %v", err)
	}
	same(t, "the card", snapshot(t, card), before)
	_, err := Back(t.TempDir(), clinic, anyLoan)
	refused(t, "a folder that is no card", err, "neither a box file nor a loan record: give the card's folder")

	// What is no diary, or a damaged one, is never wiped.
	for _, text := range []string{"not a diary, whatever else it is", "SQLite format 3\x00 and then nothing"} {
		put(t, card, "diary.db", text)
		before = snapshot(t, card)
		r, err := Back(card, otherClinic(t), anyLoan)
		refused(t, text, err, "nothing was wiped", "move it to a safe place, and bring the card back again")
		if r.Merged {
			t.Errorf("%q is merged", text)
		}
		same(t, "the card", snapshot(t, card), before)
	}

	// Once it was moved away the rest can be wiped.
	do(t, os.Remove(filepath.Join(card, "diary.db")))
	r, err := Back(card, otherClinic(t), withoutDiary)
	do(t, err)
	if !r.NoDiary || r.Again || r.Sessions != nil {
		t.Errorf("%+v", r)
	}
	holds(t, "the card", card, box.FileName)
}

// Without a record, or with one that cannot be read, the box file says where
// all is.
func TestBackWithoutARecord(t *testing.T) {
	for _, record := range []string{"", "glidepace-loan: 7\n"} {
		card := t.TempDir()
		lend(t, card)
		do(t, os.Remove(filepath.Join(card, RecordName)))
		put(t, card, pending(RecordName), "K-2")
		if record != "" {
			put(t, card, RecordName, record)
		}
		put(t, card, "mark.txt", "asked K-204 to call")
		r := back(t, card, otherClinic(t))
		if r.Record != nil || r.Added != 2 || len(r.Traces) != 1 || r.Kept {
			t.Errorf("%+v", r)
		}
		holds(t, "the card", card, "box.yaml", "mark.txt", "spoken/breathe-in.wav", "spoken/out.wav")
	}
}

// A card with traces keeps its record, and is looked through until they are
// gone.
func TestBackWithTraces(t *testing.T) {
	card, clinic := t.TempDir(), otherClinic(t)
	done := lend(t, card)
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
		put(t, card, name, text)
	}
	record := snapshot(t, card)[RecordName]
	r := back(t, card, clinic)
	traces := []Trace{
		{"FIRST WEEK, RIGHT HAND.pdf", "the session's title", true},
		{"k-204.txt", patientCode, true},
		{"kept.txt", patientCode, false},
		{"kernel.img", patientCode, false},
		{"log", "the ID of a session", false},
		{"spoken/MARK K-204", patientCode, true},
		{"with a note.txt", "a note", false},
	}
	same(t, "traces", r.Traces, traces)
	if r.Looked != 9 || r.Again || !r.Kept || slices.Contains(r.Wiped, RecordName) {
		t.Errorf("%+v", r)
	}
	again := func(want Returned) {
		t.Helper()
		before := snapshot(t, card)
		got := back(t, card, clinic)
		want.Record, want.Again, want.Merged, want.NoDiary, want.Kept = r.Record, true, true, true, want.Traces != nil
		same(t, "again", got, want)
		if want.Kept {
			same(t, "the card", snapshot(t, card), before)
		}
		_, err := Load(card, otherClinic(t), sample("K-311"))
		if errors.As(err, new(*NotBackError)) != want.Kept {
			t.Errorf("loaded with traces: %v", err)
		}
	}
	again(Returned{Looked: 9, Traces: traces})
	again(Returned{Looked: 9, Traces: traces})
	for _, f := range traces[1:] {
		do(t, os.Remove(filepath.Join(card, f.File)))
	}
	again(Returned{Looked: 3, Traces: traces[:1]})
	if files := snapshot(t, card); files[RecordName] != record || files[merged("diary.db")] != "" {
		t.Errorf("kept: %v", files)
	}
	do(t, os.Remove(filepath.Join(card, traces[0].File)))
	again(Returned{Looked: 2, Wiped: []string{RecordName}}) // and lends it to K-311
	if r := back(t, card, clinic); r.Again || r.Record.Patient != "K-311" {
		t.Errorf("%+v", r)
	}
}

// A diary that is gone or blank is a loss, as after a power cut, and no blank
// sheet.
func TestLostDiary(t *testing.T) {
	const repaired = "FOUND.000/FILE0000.CHK"
	for name, c := range map[string]struct {
		lose func(card, path string) error
		say  string
	}{
		"gone":  {func(_, path string) error { return os.Remove(path) }, "look for it (a repair of the card"},
		"blank": {func(_, path string) error { return os.Truncate(path, 0) }, "look for it (a repair of the card"},
		"renamed by a repair": {func(card, path string) error {
			return errors.Join(os.Mkdir(filepath.Join(card, "FOUND.000"), 0o700), os.Rename(path, filepath.Join(card, repaired)))
		}, "FILE0000.CHK may be it"},
		"gone, with a record that makes no sense": {func(card, path string) error {
			return errors.Join(os.Remove(path), os.WriteFile(filepath.Join(card, RecordName), []byte("glidepace-loan: 1\nstate: ou"), 0o600))
		}, "look for it (a repair of the card"},
	} {
		card := t.TempDir()
		lend(t, card)
		clinic, path := otherClinic(t), filepath.Join(card, "diary.db")
		do(t, c.lose(card, path))
		before := snapshot(t, card)
		for range 2 {
			r, err := Back(card, clinic, anyLoan)
			refused(t, name, err, "is gone or damaged; nothing was wiped", c.say)
			if lost, ok := errors.AsType[*LostError](err); !ok || lost.Diary != path || r.Merged {
				t.Errorf("%s: %v, %+v", name, err, r)
			}
			same(t, name, snapshot(t, card), before)
		}
		if before[repaired] != "" {
			do(t, os.Rename(filepath.Join(card, repaired), path))
			if r := back(t, card, clinic); r.Added != 2 {
				t.Errorf("%+v", r)
			}
			continue
		}
		r, err := Back(card, clinic, withoutDiary)
		do(t, err)
		if !r.NoDiary || !r.Merged {
			t.Errorf("%s: %+v", name, r)
		}
		if r.Record != nil {
			holds(t, name, card, box.FileName)
		}
	}
}

// What to do with a loan record that cannot be relied upon.
func TestDamagedRecord(t *testing.T) {
	card, clinic := t.TempDir(), otherClinic(t)
	done := lend(t, card)
	record := filepath.Join(card, RecordName)
	stays := func(what string, wants ...string) {
		t.Helper()
		before := snapshot(t, card)
		r, err := Back(card, clinic, anyLoan)
		refused(t, what, err, append(wants, "nothing was wiped")...)
		if r.Merged {
			t.Errorf("%s: merged", what)
		}
		same(t, what, snapshot(t, card), before)
	}
	do(t, os.Remove(record), os.Mkdir(record, 0o700))
	stays("a record that cannot be read", RecordName)
	do(t, os.Remove(record), os.Remove(filepath.Join(card, box.FileName)))
	put(t, card, RecordName, "glidepace-loan: 1\nstate: ou")
	stays("and no box file", "put the box's own there")
	put(t, card, box.FileName, boxYAML+"diary: other.db\n")
	stays("a box file that names another diary", "diary.db is a diary that its box.yaml does not name", "write diary: diary.db")

	// Nothing of it remains when it is said which diary it is.
	put(t, card, box.FileName, boxYAML)
	if r := back(t, card, clinic); r.Record != nil || r.Added != 2 {
		t.Errorf("%+v", r)
	}
	same(t, "at the clinic", inDiary(t, clinic), done)
	if _, err := os.Stat(record); err == nil {
		t.Error("the record is still there")
	}
}
