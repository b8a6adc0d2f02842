package diarytest

import (
	"bytes"
	"maps"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"glidepace/sessions"
	"glidepace/sessions/diary"
)

// The same seed gives the same diary, with as many sessions as were asked for, all of
// which can be read.
func TestClinic(t *testing.T) {
	until, _ := sessions.ParseDate("2026-11-28")
	export := func(seed uint64) string {
		path := filepath.Join(t.TempDir(), "diary.db")
		Write(t, path, Clinic{Seed: seed, Sessions: 700, Until: until}.All())
		d, err := diary.OpenExisting(path)
		if err != nil {
			t.Fatal(err)
		}
		defer d.Close()
		list, err := d.List(diary.Filter{})
		if err != nil {
			t.Fatal(err)
		}
		stops := 0
		for _, s := range list {
			if stops += len(s.Stops); s.Warning() != "" || s.Date > until.String() {
				t.Errorf("%s, on %s: %s", s.ID, s.Date, s.Warning())
			}
		}
		var unordered []diary.Session
		for s, err := range d.Unordered(diary.Filter{}) {
			if err != nil {
				t.Fatal(err)
			}
			unordered = append(unordered, s)
		}
		byID := func(a, b diary.Session) int { return strings.Compare(a.ID, b.ID) }
		slices.SortFunc(unordered, byID)
		slices.SortFunc(list, byID)
		if !reflect.DeepEqual(unordered, list) {
			t.Error("read in any order the sessions are different")
		}
		if len(list) != 700 || stops == 0 {
			t.Errorf("%d sessions with %d stops, want 700 with some", len(list), stops)
		}
		var b bytes.Buffer
		if err := diary.ExportJSON(&b, d.EachWithEvents(diary.Filter{})); err != nil {
			t.Fatal(err)
		}
		return b.String()
	}
	first := export(1)
	if again := export(1); again != first {
		t.Error("the same seed gave another diary")
	}
	if other := export(2); other == first {
		t.Error("another seed gave the same diary")
	}
}

// Every kind of patient is there, and each does what their session file says.
func TestFile(t *testing.T) {
	until, _ := sessions.ParseDate("2026-11-28")
	c := Clinic{Seed: 1, Patients: len(kinds), Until: until}
	hashes := map[string]bool{}
	for n := range c.Patients {
		file, err := sessions.Parse("invented.yaml", strings.NewReader(c.File(n+1)))
		if err != nil {
			t.Fatal(err)
		}
		hashes[file.Patient+file.Hash()] = true
	}
	seen := map[string]bool{}
	for s := range c.All() {
		seen[s.Patient+s.Prescription] = true
	}
	if !maps.Equal(seen, hashes) {
		t.Errorf("sessions of %v, want %v", seen, hashes)
	}
}
