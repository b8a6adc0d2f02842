package loan

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

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

// load loads a card at a clinic that is forgotten.
func load(t *testing.T, card, patient string) *Record {
	t.Helper()
	return loadFrom(t, newClinic(t), card, patient)
}

func loadFrom(t *testing.T, clinic, card, patient string) *Record {
	t.Helper()
	record, err := Load(card, clinic, sample(patient))
	do(t, err)
	return record
}

// loansOf writes the loans that a clinic knows of, a line each: "Box 3 to K-204, lent,
// back 2027-01-04".
func loansOf(t *testing.T, clinic string) string {
	t.Helper()
	d, err := diary.OpenExisting(clinic)
	if errors.As(err, new(*diary.NoDiaryError)) {
		return ""
	}
	do(t, err)
	defer d.Close()
	list, _, err := d.Loans()
	do(t, err)
	var lines []string
	for _, l := range list {
		text := fmt.Sprintf("%s to %s, ", l.Box, l.Patient)
		if l.Stage == diary.Lent {
			text += "lent"
		} else {
			text += "begun"
		}
		if !l.Back.IsZero() {
			text += ", back " + l.Back.String()
		}
		lines = append(lines, text)
	}
	return strings.Join(lines, "\n")
}

// note is what the patient of use had to say.
const note = "the hand was cold, wore gloves"

// use does with a card what a patient does: one session to the end, with a
// note, and one that is cut off. It returns them.
func use(t *testing.T, card, patient string) []diary.Session {
	t.Helper()
	d, err := diary.Options{Card: true}.Open(filepath.Join(card, "diary.db"))
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
	return inDiary(t, filepath.Join(card, "diary.db"))
}

// lend lends a card to K-204, who uses it. It returns the sessions on it.
func lend(t *testing.T, card string) []diary.Session {
	t.Helper()
	load(t, card, "K-204")
	return use(t, card, "K-204")
}

// newClinic is where a clinic's diary will be.
func newClinic(t *testing.T) string { return filepath.Join(t.TempDir(), "clinic.db") }

// otherClinic returns the diary of a clinic that knows of no loan.
func otherClinic(t *testing.T) string {
	t.Helper()
	path := newClinic(t)
	d, err := diary.Open(path)
	do(t, err, d.Close())
	return path
}

// How cards come back: to a clinic that knows the loan, to one that need not, and
// without a diary.
var (
	known        = Return{Today: sessions.DateOf(time.Date(2027, 1, 4, 0, 0, 0, 0, time.UTC))}
	anyLoan      = Return{Today: known.Today, LoadedElsewhere: true}
	withoutDiary = Return{Today: known.Today, LoadedElsewhere: true, WithoutDiary: true}
)

func back(t *testing.T, card, clinic string) *Returned {
	t.Helper()
	r, err := Back(card, clinic, anyLoan)
	do(t, err)
	return r
}

// refused fails unless an error has all of the texts.
func refused(t *testing.T, what string, err error, texts ...string) {
	t.Helper()
	for _, text := range texts {
		if err == nil || !strings.Contains(err.Error(), text) {
			t.Errorf("%s: %v, want %q", what, err, text)
		}
	}
}

// put writes a file on a card.
func put(t *testing.T, card, name, content string) {
	t.Helper()
	name = filepath.Join(card, filepath.FromSlash(name))
	do(t, os.MkdirAll(filepath.Dir(name), 0o700), os.WriteFile(name, []byte(content), 0o600))
}

// inDiary returns the sessions of a diary with their events, none where there is
// no diary. Its folder is copied first, so that it is left as it is.
func inDiary(t *testing.T, path string) []diary.Session {
	t.Helper()
	copied := t.TempDir()
	do(t, os.CopyFS(copied, os.DirFS(filepath.Dir(path))))
	d, err := diary.Options{Card: true}.OpenExisting(filepath.Join(copied, filepath.Base(path)))
	if errors.As(err, new(*diary.NoDiaryError)) {
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
	all := os.DirFS(dir)
	do(t, fs.WalkDir(all, ".", func(name string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		text, err := fs.ReadFile(all, name)
		files[name] = string(text)
		return err
	}))
	return files
}

// holds fails unless these files are in a folder, and no others.
func holds(t *testing.T, what, dir string, want ...string) {
	t.Helper()
	same(t, what, slices.Sorted(maps.Keys(snapshot(t, dir))), want)
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
