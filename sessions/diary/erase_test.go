package diary

import (
	"bytes"
	"crypto/sha256"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
)

// restOf is a hash of all rows of a diary that hold none of the texts.
func restOf(t *testing.T, d *Diary, without []string) string {
	t.Helper()
	var rows []string
	for _, table := range []string{"self", "sessions", "events", "kept_sessions", "kept_events", "loans"} {
		do(t, each(d.db, func(r *row) {
			text := fmt.Sprintf("%s %q", table, r.values)
			if !slices.ContainsFunc(without, func(w string) bool { return strings.Contains(text, `"`+w+`"`) }) {
				rows = append(rows, text)
			}
		}, "SELECT * FROM "+table))
	}
	slices.Sort(rows)
	return fmt.Sprintf("%d rows, %x", len(rows), sha256.Sum256([]byte(strings.Join(rows, "\n"))))
}

// inFiles returns the texts that stand in a diary's files, apart from what looks for
// them in the product.
func inFiles(t *testing.T, path string, texts []string) (found []string) {
	t.Helper()
	for _, name := range must(filepath.Glob(path + "*")) {
		content, err := os.ReadFile(name)
		if err != nil {
			continue // a folder
		}
		for _, text := range texts {
			if bytes.Contains(content, []byte(text)) {
				found = append(found, name+": "+text)
			}
		}
	}
	return found
}

// Whatever is in the diary, what is erased is in no byte of its files, and every row of
// others is as it was.
func TestErase(t *testing.T) {
	for seed := range uint64(10) {
		random := rand.New(rand.NewPCG(seed, 0))
		d := fresh(t)
		other := card(t, filepath.Join(t.TempDir(), "other.db"))
		gone := []string{"K-204"}
		for n := range 12 + random.IntN(20) {
			s := sample(zoned(t, "Europe/Berlin", "2026-12-01 08:30:00").AddDate(0, 0, n))
			s.Patient = []string{"K-204", "K-311", "Z-1"}[random.IntN(3)]
			s.Title = "Title of " + s.Patient
			r := begun(t, d, s)
			for i := range random.IntN(30) {
				do(t, r.Event(rep(i+1)))
			}
			do(t, r.End(ending(3)))
			must(d.Note(s.ID, "a note about "+s.Patient, s.Started))
			if s.Patient == "K-204" {
				gone = append(gone, s.ID, s.Title)
			}
		}
		// Another diary tells of some sessions on paper differently.
		for i, into := range []*Diary{d, other} {
			for _, patient := range []string{"K-204", "K-311"} {
				asks := common()
				asks.Patient = patient
				tick := Tick{Date: "2026-11-20", Number: 1, Repetitions: 5 + i, Note: "ticked by " + patient}
				must(into.Enter(Sheet{Repetitions: 10}, always(asks), []Tick{tick}))
				if patient == "K-204" {
					gone = append(gone, tick.id(Key{Patient: patient}))
				}
			}
		}
		do(t, other.Close())
		must(d.MergeVersions(other.path))
		for _, patient := range []string{"K-204", "K-311"} {
			l := boxLent(t, patient)
			l.Back = day(t, "2026-12-24")
			do(t, d.KeepLoan(l))
		}

		before := restOf(t, d, gone)
		e, err := d.Erase(Key{Patient: "K-204"})
		do(t, err)
		if e.Traces != nil || !slices.Equal(e.Shared, []string{common().Title}) || e.Sessions == 0 || len(e.Loans) != 1 || !slices.Contains(e.Files, d.path) {
			t.Errorf("seed %d: %+v", seed, e)
		}
		if found := inFiles(t, d.path, append(gone, "a note about K-204", "ticked by K-204")); found != nil {
			t.Errorf("seed %d: left in the files: %q", seed, found)
		}
		if after := restOf(t, d, nil); after != before {
			t.Errorf("seed %d: of others it has %s, and had %s", seed, after, before)
		}
		if e, err := d.Erase(Key{Patient: "K-204"}); err != nil || e.Sessions != 0 || e.Traces != nil {
			t.Errorf("seed %d: once more: %+v, %v", seed, e, err)
		}
	}
}

// Without a code it is the sessions of a title that have none.
func TestEraseByTitle(t *testing.T) {
	d := fresh(t)
	for _, patient := range []string{"", "K-204", ""} {
		s := sample(time.Now())
		s.Patient = patient
		do(t, begun(t, d, s).End(ending(1)))
	}
	key := Key{Title: sample(time.Time{}).Title}
	if e := must(d.ToErase(key)); e.Sessions != 2 || e.From != time.Now().UTC().Format(time.DateOnly) && e.From != time.Now().Format(time.DateOnly) {
		t.Errorf("to erase: %+v", e)
	}
	e := must(d.Erase(key))
	if e.Sessions != 2 || !slices.Equal(e.Shared, []string{key.Title}) || e.Looked != 2 {
		t.Errorf("%+v", e)
	}
	if s := only(t, d); s.Patient != "K-204" {
		t.Errorf("%+v is left", s)
	}
}

func TestEraseSaysWhatItCannotShow(t *testing.T) {
	d := fresh(t)
	for _, patient := range []string{"K-204", "K-2041", "Z1"} {
		s := sample(time.Now())
		s.Patient, s.Title = patient, "Of "+patient
		do(t, begun(t, d, s).End(ending(1)))
	}
	if e := must(d.Erase(Key{Patient: "K-204"})); !slices.Equal(e.Shared, []string{"K-204", "Of K-204"}) || e.Looked != 1 || e.Traces != nil {
		t.Errorf("part of another code: %+v", e)
	}
	if e := must(d.Erase(Key{Patient: "Z1"})); !slices.Equal(e.Shared, []string{"Z1"}) || e.Looked != 2 || e.Traces != nil {
		t.Errorf("too short: %+v", e)
	}
	// A trace is seen, wherever it is.
	name := lockPath(d.path, "a000000000")
	for before := 1<<20 - 10; before < 1<<20+10; before++ { // it is read in pieces
		do(t, os.WriteFile(name, append(make([]byte, before), "K-999"...), 0o600))
		if found := must(stands(name, []string{"a000000000", "K-999"})); !found {
			t.Errorf("not seen after %d bytes", before)
		}
	}
	if e := must(d.Erase(Key{Patient: "K-999"})); !slices.Equal(e.Traces, []string{name}) {
		t.Errorf("with a trace in %s: %+v", name, e)
	}
}

func TestEraseRefuses(t *testing.T) {
	d := fresh(t)
	r := begun(t, d, sample(time.Now()))
	before := restOf(t, d, nil)
	refuses := func(why string) {
		t.Helper()
		if _, err := d.Erase(Key{Patient: "K-204"}); err == nil || !strings.Contains(err.Error(), "nothing was erased") || !strings.Contains(err.Error(), why) {
			t.Errorf("%v, want %q", err, why)
		}
		if after := restOf(t, d, nil); after != before {
			t.Errorf("%s: something is changed", why)
		}
	}
	refuses("still runs")
	do(t, r.End(ending(1)))

	do(t, d.KeepLoan(boxLent(t, "K-204")))
	before = restOf(t, d, nil)
	refuses("Box 3 is out with K-204 since 2026-12-01")
	var out *StillOutError
	if _, err := d.Erase(Key{Patient: "K-204"}); !errors.As(err, &out) || out.Loan.Box != "Box 3" {
		t.Errorf("%v", err)
	}
	l := boxLent(t, "K-204")
	l.Lost = day(t, "2026-12-24")
	do(t, d.KeepLoan(l))
	before = restOf(t, d, nil)

	lock := must(tryLock(d.path+mergeLock, os.O_CREATE|os.O_RDWR))
	refuses("another program merges into it")
	release(lock)

	// A reader keeps old pages: then the end is not claimed, and another call gets there.
	reader := opened(t, d.path)
	rows := must(reader.db.Query("SELECT session FROM events"))
	rows.Next()
	must(d.db.Exec("PRAGMA busy_timeout = 50"))
	if _, err := d.Erase(Key{Patient: "K-204"}); err == nil || !strings.Contains(err.Error(), "traces may be left") {
		t.Errorf("erased under the eyes of a reader: %v", err)
	}
	do(t, rows.Close())
	if e := must(d.Erase(Key{Patient: "K-204"})); e.Traces != nil {
		t.Errorf("%+v", e)
	}
	if found := inFiles(t, d.path, []string{"K-204"}); found != nil {
		t.Errorf("left: %q", found)
	}
}
