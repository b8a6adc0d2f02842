package diary

import (
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"glidepace/sessions"
)

// pageLine is a session in a line, as a web page gives it.
func pageLine(t testing.TB, id string, reps int, ended, morning bool) string {
	t.Helper()
	d := must(Open(filepath.Join(t.TempDir(), "diary.db")))
	s := sample(time.Date(2026, 12, 1, 8, 30, 0, 0, time.FixedZone("", 3600)))
	s.ID, s.Source, s.Plan = id, OnPage, `{"reps":10}`
	r := must(d.Begin(s))
	for n := 1; n <= reps; n++ {
		check(r.Event(rep(n)))
	}
	if ended {
		end := ending(reps)
		end.When = s.Started.Add(end.At)
		check(r.End(end), r.Event(Event{At: end.At + time.Minute}.With(Rating{AfterSession, sessions.Ratings{Tingling: of(1), Pain: of(0)}})))
	}
	if morning {
		check(d.NextMorning(id, sessions.NotWorse, s.Started.AddDate(0, 0, 1)))
	}
	r.Leave()
	check(d.Close())
	d = must(Open(d.path)) // which closes what was cut off
	kept := must(d.Show(id))
	check(d.Close())
	kept.Diary = "d000000000" // the phone's
	return string(must(json.Marshal(kept))) + "\n"
}

func pageFile(t testing.TB, text string) (path string) {
	t.Helper()
	path = filepath.Join(t.TempDir(), "page.jsonl")
	check(os.WriteFile(path, []byte(text), 0o600))
	return path
}

// What a page gave is merged in any order and as often as one likes, and becomes the same.
func TestMergeOfAPage(t *testing.T) {
	cutOff := pageFile(t, pageLine(t, "a000000000", 2, false, false))
	whole := pageFile(t, "\uFEFF"+pageLine(t, "a000000000", 5, true, false)+"\r\n"+pageLine(t, "b000000000", 3, true, false))
	later := pageFile(t, pageLine(t, "a000000000", 5, true, true)+pageLine(t, "b000000000", 3, true, false))
	var first []string
	for _, order := range [][]string{{cutOff, whole, later}, {later, whole, cutOff}, {whole, cutOff, later, later}, {later}} {
		d := fresh(t)
		for _, path := range order {
			unchanged := onlyRead(t, path)
			if j := must(d.MergeVersions(path)); len(j.Versions) > 0 {
				t.Errorf("told differently: %v", j.Versions)
			}
			unchanged()
			noneLeft(t, d)
		}
		if now := everything(d); first == nil {
			first = now
		} else if !slices.Equal(now, first) {
			t.Errorf("in the order %v\n%s\nand not\n%s", order, strings.Join(now, "\n"), strings.Join(first, "\n"))
		}
		s := must(d.Show("a000"))
		if s.Source != OnPage || s.Done.Repetitions != 5 || s.Outcome != sessions.Completed || s.NextMorning != sessions.NotWorse ||
			*s.After.Tingling != 1 || s.Started.Format(time.RFC3339) != "2026-12-01T08:30:00+01:00" || s.Ended.Sub(s.Started) != 50*time.Second || len(s.Events) != 9 {
			t.Errorf("read as %+v", s)
		}
		if j := must(d.MergeVersions(later)); j.Added+j.Extended != 0 || j.There != 2 {
			t.Errorf("once more: %+v", j)
		}
	}
	d := fresh(t)
	must(d.MergeVersions(whole))
	if j := must(d.MergeVersions(later)); j.Extended != 1 || j.There != 1 {
		t.Errorf("a later file: %+v", j)
	}
}

// A line that no page writes is named, and nothing is merged.
func TestBadLineIsNotMerged(t *testing.T) {
	before, good := pageLine(t, "a000000000", 2, true, false), pageLine(t, "b000000000", 3, true, true)
	swap := func(old, new string) string {
		if !strings.Contains(good, old) {
			t.Fatalf("%s is not in %s", old, good)
		}
		return strings.Replace(good, old, new, 1)
	}
	note := func(text string) string {
		return swap(`"events":[`, `"events":[`+string(must(json.Marshal(Event{}.With(Note{Text: text}))))+",")
	}
	d := fresh(t)
	add(t, d, "c000000000", 2, true)
	for _, c := range []struct{ line, want string }{
		{"{}", "source"},
		{"{", "unexpected end"},
		{"[1]", "cannot be read"},
		{good[:len(good)/2], "unexpected end"},
		{swap(`"page"`, `"paced"`), `source: "paced"`},
		{swap(`"b000000000"`, `"../../etc/x"`), "id:"},
		{swap(`"b000000000"`, `"a000000000"`), "in line 1 too"},
		{swap(`"outcome":"completed"`, `"outcome":"cured"`), "outcome:"},
		{swap(`First week`, `First \u202eweek`), "U+202E"},
		{swap(`First week`, `First \u0000week`), "U+0000"},
		{swap(`First week`, "First \xffweek"), "UTF-8"},
		{swap(`First week`, strings.Repeat("First week", 200)), "title:"},
		{swap(`"repetitions":3`, `"repetitions":1e9`), "cannot be read"},
		{swap(`"repetitions":3`, `"repetitions":999999`), "done_reps:"},
		{swap(`"length_s":30`, `"length_s":-1`), "length_s:"},
		{swap(`"length_s":30`, `"length_s":1e300`), "length_s:"},
		{swap(`"at_s":10`, `"at_s":1e999`), "cannot be read"},
		{swap(`"rep":1,`, `"rep":-1,`), "rep:"},
		{swap(`\"tingling\":1`, `\"tingling\":11`), "detail:"},
		{swap(`"2026-12-01T08:30:00+01:00"`, `"0000-01-01T00:00:00+23:59"`), "started:"},
		{swap(`"date":"2026-12-01"`, `"date":"soon"`), "date:"},
		{note(strings.Repeat("x", 10<<20)), "longer than 1 MB"},
		{note(strings.Repeat("x", 501)), "detail:"},
		{note("hand \u202e cold"), "U+202E"},
		{`{"id":"b000000000","source":"page","outcome":"completed","stops":1}`, "no events"},
	} {
		had := everything(d)
		path := pageFile(t, before+"\n"+strings.TrimSpace(c.line)+"\n")
		_, err := d.MergeVersions(path)
		wrong, ok := errors.AsType[*RowError](err)
		if !ok || wrong.Line != 3 || !strings.Contains(err.Error(), "line 3: ") || !strings.Contains(err.Error(), c.want) || len(err.Error()) > 600 {
			t.Errorf("%.300s\n%v, want %q in line 3", c.line, err, c.want)
		}
		if !slices.Equal(everything(d), had) {
			t.Errorf("%.300s: the diary was changed", c.line)
		}
		noneLeft(t, d)
	}
	large := pageFile(t, good+strings.Repeat("\n", largestText))
	if _, err := d.MergeVersions(large); err == nil || !strings.Contains(err.Error(), "larger than 64 MB") {
		t.Errorf("a large file: %v", err)
	}
	if _, err := d.Merge(pageFile(t, good)); err == nil { // as of a card, which is wiped afterwards
		t.Error("a card may hold such a file")
	}
}

// Whatever a line holds, it is refused and the diary is as it was, or all of it can be
// read and merging it again changes nothing.
func FuzzReadLine(f *testing.F) {
	good := pageLine(f, "b000000000", 3, true, true)
	for _, line := range []string{good, pageLine(f, "c000000000", 2, false, false), good[:len(good)/2], strings.Replace(good, "page", "paced", 1)} {
		f.Add(line)
	}
	f.Fuzz(func(t *testing.T, line string) {
		if _, err := readLine([]byte(line)); err != nil {
			return
		}
		d := fresh(t)
		path := pageFile(t, strings.ReplaceAll(line, "\n", " "))
		if _, err := d.MergeVersions(path); err != nil {
			if now := everything(d); len(now) > 0 {
				t.Errorf("refused (%v), and yet %v", err, now)
			}
			return
		}
		had := everything(d)
		for _, s := range must(readAll(d)) {
			if s.Warning() != "" {
				t.Error(s.Warning())
			}
		}
		if j := must(d.MergeVersions(path)); j.Added+j.Extended > 0 || !slices.Equal(everything(d), had) {
			t.Error("merged again it is not the same")
		}
	})
}
