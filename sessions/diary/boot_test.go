package diary

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"glidepace/sessions"
)

// clockless is a session of a machine without a clock. What its caller takes
// for the time is of no account.
func clockless(boot string, since float64) *Session {
	s := sample(time.Date(1970, 1, 1, 0, 12, 3, 0, time.UTC))
	s.Boot, s.Plan, s.Before = &Boot{ID: boot, Since: since, NotBefore: lent}, `{"reps":5}`, sessions.Ratings{Tingling: of(1), Pain: of(0)}
	return s
}

var lent = time.Date(2026, 12, 1, 9, 0, 0, 0, time.UTC)

const bootID = "3f2a91c0-7d1b-4c1e-9a52-0b7d5e6f1a2b"

func TestWithoutAClock(t *testing.T) {
	path := filepath.Join(t.TempDir(), "diary.db")
	o := Options{Card: true}
	var ids []string
	for i, c := range []struct {
		boot  string
		since float64
		ended bool
	}{{bootID, 723, true}, {bootID, 4000.5, false}, {"a0", 60, true}} {
		r := o.Record(path, *clockless(c.boot, c.since), time.Minute, func(err error) { t.Error(err) })
		r.Event(rep(1))
		if c.ended {
			r.End(ending(1))
		}
		do(t, r.Flush(t.Context()))
		known := r.Session()
		if known.Number != i+1 || !known.Started.IsZero() || !known.Ended.IsZero() || known.Date != "" {
			t.Errorf("the recorder knows %+v", known)
		}
		ids = append(ids, known.ID)
		do(t, r.Close(t.Context()))
	}
	d := must(o.Open(path))
	defer d.Close()
	do(t, begun(t, d, sample(time.Date(2026, 12, 1, 8, 30, 0, 0, time.UTC))).End(ending(1)))

	list := must(d.List(Filter{}))
	if len(list) != 4 || list[3].Boot != nil || list[3].Number != 0 {
		t.Fatalf("%+v", list)
	}
	for i, s := range list[:3] {
		if s.ID != ids[i] || s.Number != i+1 || s.Date != "" || !s.Started.IsZero() || !s.Ended.IsZero() || s.Length != 10*time.Second {
			t.Errorf("number %d: %+v", i+1, s)
		}
	}
	if *list[1].Boot != (Boot{ID: bootID, Since: 4000.5, NotBefore: lent}) || list[1].Outcome != sessions.Interrupted || list[0].Outcome != sessions.Completed {
		t.Errorf("%+v", list[:2])
	}

	for _, date := range []string{"", "1970-01-01"} {
		if n := must(d.CountOn(date, Key{Patient: "K-204"})); n != 0 {
			t.Errorf("%d sessions on %q", n, date)
		}
	}
	const want = `started      date not known, boot 3f2a91c0, 0:12:03 after power-on, not before 2026-12-01 09:00
length       0:10
repetitions  1 of 10
breaths      2 of 11
sets         1 of 1
rate         12 to 8 breaths a minute
movement     exhale through the glide, one breath a repetition
sound        off
outcome      completed
before       tingling 1, pain 0
             0:00 started
             0:00 undated  number 1, boot 3f2a91c0, 0:12:03 after power-on, not before 2026-12-01 09:00
             0:00 rating  before: tingling 1, pain 0
             0:10 ended  completed
`
	if _, got, _ := strings.Cut(must(d.Show(ids[0])).String(), "K-204\n"); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}

	var out bytes.Buffer
	do(t, ExportCSV(&out, d.Each(Filter{})))
	lines := must(csv.NewReader(&out).ReadAll())
	cell := func(line int, column string) string { return lines[line][slices.Index(lines[0], column)] }
	for column, want := range map[string]string{"date": "", "started": "", "ended": "", "number": "2", "boot": bootID, "since_boot_s": "4000.5"} {
		if got := cell(2, column); got != want {
			t.Errorf("CSV: %s is %q, want %q", column, got, want)
		}
	}
	out.Reset()
	do(t, ExportJSON(&out, d.EachWithEvents(Filter{})))
	var exported []map[string]any
	do(t, json.Unmarshal(out.Bytes(), &exported))
	first := exported[0]
	if first["started"] != nil || first["ended"] != nil || first["date"] != "" || first["number"] != 1.0 ||
		!reflect.DeepEqual(first["boot"], map[string]any{"id": bootID, "since_s": 723.0, "not_before": "2026-12-01T09:00:00Z"}) {
		t.Errorf("JSON: %v", first)
	}

	clinic := fresh(t)
	merged := must(clinic.Merge(path))
	if !reflect.DeepEqual(merged.Added, list) {
		t.Errorf("merged\n%+v\nwant\n%+v", merged.Added, list)
	}

	// Damaged entries do not keep a session from beginning.
	must(d.db.Exec("UPDATE events SET detail = '{' WHERE kind = ?", Undated))
	later := clockless("a0", 90)
	begun(t, d, later).Leave()
	if later.Number != 1 {
		t.Errorf("after damaged entries it is number %d", later.Number)
	}
}
