package diary

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"glidepace/sessions"
)

func csvLine(cells ...string) string {
	var out bytes.Buffer
	b := bufio.NewWriter(&out)
	writeLine(b, cells)
	b.Flush()
	return out.String()
}

func TestLinesOfRFC4180(t *testing.T) {
	// Source: RFC 4180 §2, its examples; quotes where they may be left out
	// are left out.
	for want, cells := range map[string][]string{
		"aaa,bbb,ccc\r\n":         {"aaa", "bbb", "ccc"},
		"aaa,\"b\r\nbb\",ccc\r\n": {"aaa", "b\r\nbb", "ccc"},
		"aaa,\"b\"\"bb\",ccc\r\n": {"aaa", `b"bb`, "ccc"},
		"aaa,\"b,bb\",ccc\r\n":    {"aaa", "b,bb", "ccc"},
		"\"a\nb\",\"c\rd\",,\r\n": {"a\nb", "c\rd", "", ""},
	} {
		if got := csvLine(cells...); got != want {
			t.Errorf("%q: %q, want %q", cells, got, want)
		}
	}
}

func TestLineIsReadBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		cells := rapid.SliceOfN(rapid.OneOf(rapid.String(), rapid.StringOf(rapid.SampledFrom([]rune("a,\"\r\n=")))), 2, 5).Draw(t, "cells")
		got, err := csv.NewReader(strings.NewReader(csvLine(cells...))).Read()
		if err != nil {
			t.Fatal(err)
		}
		for i, c := range cells {
			cells[i] = strings.ReplaceAll(c, "\r\n", "\n") // as that reader does
		}
		if !slices.Equal(got, cells) {
			t.Fatalf("%q read back as %q", cells, got)
		}
	})
}

func TestFormulasAreDefused(t *testing.T) {
	for text, want := range map[string]string{
		"=1+1": "'=1+1", "+1": "'+1", "-1": "'-1", "@SUM(A1)": "'@SUM(A1)", "\t=1": "'\t=1", "\r=1": "'\r=1", "\n=1": "'\n=1", "＝1+1": "'＝1+1",
		"": "", "a=1": "a=1", "8": "8", "'x": "'x", "K-204": "K-204",
	} {
		if got := cellText(text); got != want {
			t.Errorf("%q: %q, want %q", text, got, want)
		}
	}
	for want, number := range map[string]any{"-2.5": -2.5, "-3": -3, "1000000": 1e6, "true": true} {
		if got := cellText(number); got != want {
			t.Errorf("%v: %q, want %q", number, got, want)
		}
	}
}

// exported is a diary with one session whose title is a formula.
func exported(t *testing.T) *Diary {
	d := fresh(t)
	must(d.db.Exec("UPDATE self SET diary = 'd000000000'"))
	s := sample(zoned(t, "Europe/Berlin", "2026-12-01 08:30:00"))
	s.ID, s.Title = "k000000000", "=HYPERLINK(\"x\"),\nweek 1"
	s.Before, s.Plan = sessions.Ratings{Tingling: of(2), Pain: of(0)}, `{"reps":5}`
	r := begun(t, d, s)
	do(t, r.Event(rep(1)), r.Event(Event{At: 11 * time.Second}.With(Stopping{true})),
		r.End(Ending{When: s.Started.Add(12500 * time.Millisecond), At: 12500 * time.Millisecond,
			Outcome: sessions.EndedEarly, Done: rep(1).Done}),
		r.Event(Event{}.With(Rating{AfterSession, sessions.Ratings{Tingling: of(3)}})),
		r.Event(Event{}.With(Settling{true, 95.5})))
	do(t, d.NextMorning(s.ID, sessions.Worse, time.Time{}))
	for i, text := range []string{"-,", "more"} {
		must(d.Note(s.ID, text, s.Started.Add(time.Duration(i)*time.Hour)))
	}
	return d
}

func TestExportCSV(t *testing.T) {
	var out bytes.Buffer
	do(t, ExportCSV(&out, exported(t).Each(Filter{})))
	const want = "id,title,patient,prescription,date,started,ended,length_s," +
		"planned_sets,planned_repetitions,planned_breaths,done_sets,done_repetitions,done_breaths," +
		"rate_start_per_min,rate_end_per_min,match,sound,outcome,reason,source,extra," +
		"tingling_before,pain_before,tingling_after,pain_after,settled,settled_after_s,stops,symptom,notes,plan,number,boot,since_boot_s,felt," +
		"diary,place,stops_in_set,ended_by,not_in_time,cleared,next_morning,wrong_clock,wrong_day,unread\r\n" +
		"k000000000,\"'=HYPERLINK(\"\"x\"\"),\nweek 1\",K-204,5f1c,2026-12-01,2026-12-01T08:30:00+01:00,2026-12-01T08:30:12.5+01:00,12.5," +
		"1,10,11,0,1,2,12,8,exhale-on-glide,off,ended-early,,paced,false," +
		"2,0,3,,true,95.5,1,not said,\"'-,\nmore\",\"{\"\"reps\"\":5}\",,,,,d000000000,1,1,,false,false,worse,,false,\r\n"
	if out.String() != want {
		t.Errorf("got\n%q\nwant\n%q", out.String(), want)
	}
}

func TestExportJSON(t *testing.T) {
	var out bytes.Buffer
	do(t, ExportJSON(&out, exported(t).EachWithEvents(Filter{})))
	none := `,"exercise":0,"side":"","set":0,"rep":0,"done":{"sets":0,"repetitions":0,"breaths":0}`
	want := `[
{"id":"k000000000","title":"=HYPERLINK(\"x\"),\nweek 1","patient":"K-204","prescription":"5f1c","date":"2026-12-01","started":"2026-12-01T08:30:00+01:00","ended":"2026-12-01T08:30:12.5+01:00","planned":{"sets":1,"repetitions":10,"breaths":11},"done":{"sets":0,"repetitions":1,"breaths":2},"rate_start_per_min":12,"rate_end_per_min":8,"match":"exhale-on-glide","sound":"off","outcome":"ended-early","source":"paced","extra":false,` +
		`"plan":"{\"reps\":5}","before":{"tingling":2,"pain":0},"after":{"tingling":3},"settling":{"settled":true,"after_s":95.5},` +
		`"notes":[{"text":"-,","written":"2026-12-01T08:30:00+01:00"},{"text":"more","written":"2026-12-01T09:30:00+01:00"}],"diary":"d000000000","place":1,"stop_list":[{"symptom":"not said","in_set":true}],"next_morning":"worse",` +
		`"stops":1,"symptom":"not said","length_s":12.5,"events":[` +
		`{"at_s":0,"kind":"started"` + none + `,"detail":"{\"reps\":5}"},` +
		`{"at_s":0,"kind":"rating"` + none + `,"detail":"{\"when\":\"before\",\"tingling\":2,\"pain\":0}"},` +
		`{"at_s":10,"kind":"repetition","exercise":1,"side":"right","set":1,"rep":1,"done":{"sets":0,"repetitions":1,"breaths":2},"detail":""},` +
		`{"at_s":11,"kind":"stopped"` + none + `,"detail":"{\"in_set\":true}"},` +
		`{"at_s":12.5,"kind":"ended","exercise":0,"side":"","set":0,"rep":0,"done":{"sets":0,"repetitions":1,"breaths":2},"detail":"ended-early"},` +
		`{"at_s":0,"kind":"rating"` + none + `,"detail":"{\"when\":\"after\",\"tingling\":3}"},` +
		`{"at_s":0,"kind":"settled"` + none + `,"detail":"{\"settled\":true,\"after_s\":95.5}"},` +
		`{"at_s":0,"kind":"next-morning"` + none + `,"detail":"{\"symptoms\":\"worse\"}"},` +
		`{"at_s":0,"kind":"note"` + none + `,"detail":"{\"text\":\"-,\",\"written\":\"2026-12-01T08:30:00+01:00\"}"},` +
		`{"at_s":0,"kind":"note"` + none + `,"detail":"{\"text\":\"more\",\"written\":\"2026-12-01T09:30:00+01:00\"}"}]}
]
`
	if out.String() != want {
		t.Errorf("got\n%s\nwant\n%s", out.String(), want)
	}
}

func TestExportOfManyAndOfNone(t *testing.T) {
	d := fresh(t)
	for n := range 3 {
		var out bytes.Buffer
		do(t, ExportJSON(&out, d.EachWithEvents(Filter{})))
		var list []map[string]any
		do(t, json.Unmarshal(out.Bytes(), &list))
		if list == nil || len(list) != n {
			t.Errorf("JSON of %d sessions: %s", n, out.String())
		}
		out.Reset()
		do(t, ExportCSV(&out, d.Each(Filter{})))
		if lines := strings.Count(out.String(), "\r\n"); lines != n+1 {
			t.Errorf("CSV of %d sessions has %d lines", n, lines)
		}
		begun(t, d, sample(time.Time{})).Leave()
	}
}

// Each session is one line, an object with the columns of the table in sessions/README.md,
// and nothing in it that a database refuses.
func TestExportJSONL(t *testing.T) {
	d := opened(t, format1(t))
	must(d.db.Exec(`UPDATE events SET detail = '{"level":"\u0000"}' WHERE kind = 'started' AND session = (SELECT min(id) FROM sessions)`))
	var out bytes.Buffer
	do(t, ExportJSONL(&out, d.Unordered(Filter{})))
	readme := string(must(os.ReadFile(filepath.Join("..", "README.md"))))
	ids, plans := 0, 0
	for line := range strings.Lines(out.String()) {
		var s map[string]any
		do(t, json.Unmarshal([]byte(line), &s))
		if want := must(d.Show(s["id"].(string))); s["done_repetitions"] != float64(want.Done.Repetitions) || s["outcome"] != string(want.Outcome) {
			t.Errorf("%s\nwant\n%s", line, want)
		}
		if _, object := s["plan"].(map[string]any); object {
			plans++
		}
		for name := range s {
			if !strings.Contains(readme, "| `"+name+"` |") {
				t.Errorf("sessions/README.md does not say what %s is", name)
			}
		}
		if ids++; len(s) != len(columns) {
			t.Errorf("%d columns, want %d: %s", len(s), len(columns), line)
		}
	}
	if all := len(must(d.List(Filter{}))); ids != all || plans == 0 || plans == all {
		t.Errorf("%d lines, want %d; %d with a plan", ids, all, plans)
	}
	if strings.Contains(strings.ReplaceAll(out.String(), `\\u0000`, ""), `\u0000`) {
		t.Error("there is a NUL in it")
	}
}
