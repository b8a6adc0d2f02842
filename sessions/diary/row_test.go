package diary

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"glidepace/sessions"
)

// badValues are values that no version writes, in SQL, by table and column.
var badValues = map[string]map[string][]string{
	"sessions": {
		"id":              {"''", "'a'", "'../../b000'", "'B000000000'", "'b00000000' || char(10)"},
		"title":           {"'a' || char(0)", "CAST(x'ff' AS TEXT)", "printf('%1001c', 'x')"},
		"patient":         {"'K' || char(0)"},
		"prescription":    {"printf('%2000c', 'x')"},
		"started":         {"''", "'2026-12-01'", "'2026-13-01T07:30:00.000Z'", "'2026-12-01T07:30:00Z'", "'12026-12-01T07:30:00.000Z'"},
		"offset_min":      {"5000", "-1440", "9223372036854775807"},
		"date":            {"''", "'1.12.2026'", "'2026-02-30'"},
		"ended":           {"'tomorrow'"},
		"length_s":        {"-1", "9e999", "-9e999", "1e17"},
		"planned_sets":    {"-1", "4611686018427387904"},
		"planned_reps":    {"-1"},
		"planned_breaths": {"100001"},
		"done_sets":       {"-1"},
		"done_reps":       {"1000000000000"},
		"done_breaths":    {"-5"},
		"rate_start":      {"9e999", "-0.5"},
		"rate_end":        {"1e300"},
		`"match"`:         {"char(0)", "printf('%41c', 'x')"},
		"sound":           {"CAST(x'c328' AS TEXT)"},
		"outcome":         {"'symptom'", "'Completed'", "char(0)"},
		"reason":          {"printf('%1001c', 'x')"},
		"source":          {"'from paper'", "char(27)"},
		"extra":           {"2", "-1"},
		"diary":           {"'..'", "'d'"},
		"place":           {"-1", "9223372036854775807"},
	},
	"events": {
		"seq":          {"-1", "9223372036854775807"},
		"at_s":         {"-0.1", "9e999"},
		"kind":         {"'Repetition'", "char(10)", "printf('%41c', 'x')"},
		"exercise":     {"-1"},
		"side":         {"char(0)"},
		"set_no":       {"-1"},
		"rep":          {"9223372036854775807"},
		"done_sets":    {"-1"},
		"done_reps":    {"-1"},
		"done_breaths": {"-1"},
		"detail": {"''", "'{'", "CAST(x'ff' AS TEXT)", "printf('%200000c', ' ')",
			`'{"when":"after","tingling":11}'`, `'{"when":"after","pain":-1}'`, `'{"when":"after","pain":2.5}'`, `'{"when":"later","pain":2}'`},
	},
}

// eachBadValue calls do with each, and what sets it in the session b000000000: of
// its events in a rating.
func eachBadValue(do func(column, change string)) {
	for table, columns := range badValues {
		for column, values := range columns {
			for _, value := range values {
				where := "id = 'b000000000'"
				if table == "events" {
					where = "session = 'b000000000' AND kind = 'rating'"
				}
				do(strings.Trim(column, `"`), fmt.Sprintf("PRAGMA foreign_keys = OFF; UPDATE %s SET %s = %s WHERE %s", table, column, value, where))
			}
		}
	}
}

func TestBadValueIsNotMerged(t *testing.T) {
	clinic := fresh(t)
	add(t, clinic, "a000000000", 2, true)
	sound := card(t, filepath.Join(t.TempDir(), "diary.db"))
	add(t, sound, "b000000000", 3, true)
	add(t, sound, "c000000000", 3, true)
	do(t, sound.Close())
	content := must(os.ReadFile(sound.path))
	eachBadValue(func(column, change string) {
		path := filepath.Join(t.TempDir(), "diary.db")
		do(t, os.WriteFile(path, content, 0o600))
		other := card(t, path)
		must(other.db.Exec(change))
		do(t, other.Close())
		err := refused(t, clinic, path)
		wrong, ok := errors.AsType[*RowError](err)
		if !ok || wrong.Path != path || !strings.Contains(wrong.Wrong, column+":") || column != "id" && wrong.Session != "b000000000" {
			t.Errorf("%s: %v", change, err)
		}
	})
	mergeAll(t, clinic, sound.path, "bc//")
}

// readAll reads a diary in every way there is.
func readAll(d *Diary) (list []Session, err error) {
	if list, err = d.List(Filter{}); err != nil {
		return nil, err
	}
	var asJSON, asCSV bytes.Buffer
	err = errors.Join(ExportJSON(&asJSON, d.EachWithEvents(Filter{})), ExportCSV(&asCSV, d.Each(Filter{})))
	var decoded []json.RawMessage
	err = errors.Join(err, json.Unmarshal(asJSON.Bytes(), &decoded))
	lines, err2 := csv.NewReader(&asCSV).ReadAll()
	if err = errors.Join(err, err2); err == nil && (len(decoded) != len(list) || len(lines) != len(list)+1) {
		err = fmt.Errorf("%d sessions listed, %d in JSON, %d in CSV", len(list), len(decoded), len(lines)-1)
	}
	for _, s := range list {
		if _, e := d.Show(s.ID); validID(s.ID) {
			err = errors.Join(err, e)
		}
	}
	_, e1 := d.ClockBehind(sessions.Date{})
	_, e2 := d.CountOn("2026-12-01", Key{Patient: "K-204"})
	return list, errors.Join(err, e1, e2, sameUnordered(d, list))
}

// sameUnordered returns an error if a diary that is read in any order has other sessions.
func sameUnordered(d *Diary, list []Session) error {
	byID := func(a, b Session) int { return strings.Compare(a.ID, b.ID) }
	list = slices.SortedFunc(slices.Values(list), byID)
	unordered, err := collect(d.Unordered(Filter{}))
	slices.SortFunc(unordered, byID)
	if err == nil && !reflect.DeepEqual(unordered, list) {
		err = fmt.Errorf("in any order %+v\nwant %+v", unordered, list)
	}
	return err
}

// What is bad already, made by an older version or by hand, is read as far as it
// can be, named, and left as it is.
func TestBadValueIsRead(t *testing.T) {
	other := card(t, filepath.Join(t.TempDir(), "diary.db"))
	add(t, other, "d000000000", 3, true)
	do(t, other.Close())
	two := fresh(t)
	add(t, two, "a000000000", 2, true)
	add(t, two, "b000000000", 3, true)
	do(t, two.Close())
	content := must(os.ReadFile(two.path))
	eachBadValue(func(column, change string) {
		path := filepath.Join(t.TempDir(), "diary.db")
		do(t, os.WriteFile(path, content, 0o600))
		d := opened(t, path)
		must(d.db.Exec(change))
		had := everything(d)
		list, err := readAll(d)
		if err != nil || len(list) != 2 {
			t.Errorf("%s: %d sessions, %v", change, len(list), err)
			return
		}
		for i, s := range list {
			if s.ID == "a000000000" {
				list = slices.Delete(list, i, i+1)
				if s.Warning() != "" {
					t.Errorf("%s: of the other %q", change, s.Warning())
				}
				break
			}
		}
		bad := list[0]
		if validID(bad.ID) {
			bad = must(d.Show(bad.ID)) // of some columns of its events a list says nothing
		}
		if !strings.Contains(bad.Warning(), column+":") || !strings.Contains(bad.String(), "\nnot read ") {
			t.Errorf("%s: warning %q", change, bad.Warning())
		}
		if !slices.Equal(everything(d), had) {
			t.Errorf("%s: reading changed the diary", change)
		}
		mergeAll(t, d, other.path, "d//")
	})
}

// Whatever becomes of a card's diary, the clinic's stays whole and readable.
func TestDamagedCard(t *testing.T) {
	sound := card(t, filepath.Join(t.TempDir(), "diary.db"))
	add(t, sound, "a000000000", 2, true) // in both
	add(t, sound, "b000000000", 30, true)
	add(t, sound, "c000000000", 3, false)
	do(t, sound.Close())
	content := must(os.ReadFile(sound.path))
	before := fresh(t)
	add(t, before, "a000000000", 2, true)
	add(t, before, "d000000000", 3, true)
	do(t, before.Close())
	clinics := must(os.ReadFile(before.path))
	refusals, merges := 0, 0
	rapid.Check(t, func(rt *rapid.T) {
		dir := must(os.MkdirTemp(t.TempDir(), ""))
		defer os.RemoveAll(dir)
		path := filepath.Join(dir, "card.db")
		damaged := bytes.Clone(content)
		if rapid.Bool().Draw(rt, "bytes") {
			for range rapid.IntRange(1, 5).Draw(rt, "how many") {
				damaged[rapid.IntRange(0, len(damaged)-1).Draw(rt, "at")] = rapid.Byte().Draw(rt, "byte")
			}
			damaged = damaged[:len(damaged)-rapid.SampledFrom([]int{0, 0, 0, 1, 4096, len(damaged) - 1, len(damaged)}).Draw(rt, "cut")]
			check(os.WriteFile(path, damaged, 0o600))
		} else {
			check(os.WriteFile(path, damaged, 0o600))
			other := must(Options{Card: true}.Open(path))
			table := rapid.SampledFrom([]string{"sessions", "events"}).Draw(rt, "table")
			column := rapid.SampledFrom(slices.Sorted(maps.Keys(badValues[table]))).Draw(rt, "column")
			value := rapid.OneOf(rapid.Map(rapid.Int64(), func(n int64) any { return n }), rapid.Map(rapid.Float64(), func(f float64) any { return f }),
				rapid.Map(rapid.SliceOf(rapid.Byte()), func(b []byte) any { return string(b) }), rapid.Just[any](nil)).Draw(rt, "value")
			// Some values the table itself refuses.
			other.db.Exec("PRAGMA foreign_keys = OFF")
			other.db.Exec(fmt.Sprintf("UPDATE OR IGNORE %s SET %s = ?", table, column), value)
			check(other.Close())
		}
		if staysWhole(rt, dir, clinics) {
			merges++
		} else {
			refusals++
		}
	})
	if refusals == 0 || merges == 0 {
		t.Errorf("%d were refused, %d merged", refusals, merges)
	}
}

// staysWhole merges the card.db of a folder into a clinic's diary there, or it is refused.
func staysWhole(t interface {
	Error(...any)
	Errorf(string, ...any)
}, dir string, clinics []byte) (merged bool) {
	check(os.WriteFile(filepath.Join(dir, "clinic.db"), clinics, 0o600))
	clinic := must(Open(filepath.Join(dir, "clinic.db")))
	defer clinic.Close()
	had := everything(clinic)
	_, refused := clinic.Merge(filepath.Join(dir, "card.db"))
	now := everything(clinic)
	if refused != nil && !slices.Equal(now, had) {
		t.Errorf("refused (%v), and yet changed", refused)
	}
	for _, line := range had {
		if !slices.Contains(now, line) {
			t.Errorf("%s is gone", line)
		}
	}
	list, err := readAll(clinic)
	for _, s := range list {
		if s.Warning() != "" {
			t.Errorf("merged (%v): %s", refused, s.Warning())
		}
	}
	if err != nil {
		t.Error(err)
	}
	return refused == nil
}

// Whatever a file holds that is given as a diary, the clinic's stays whole and readable.
func FuzzMerge(f *testing.F) {
	sound, clinic := card(f, filepath.Join(f.TempDir(), "diary.db")), fresh(f)
	add(f, sound, "b000000000", 3, true)
	add(f, clinic, "a000000000", 2, true)
	check(sound.Close(), clinic.Close())
	clinics := must(os.ReadFile(clinic.path))
	f.Add(must(os.ReadFile(sound.path)))
	f.Fuzz(func(t *testing.T, file []byte) {
		dir := t.TempDir()
		do(t, os.WriteFile(filepath.Join(dir, "card.db"), file, 0o600))
		staysWhole(t, dir, clinics)
	})
}
