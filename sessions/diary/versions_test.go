package diary

import (
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"glidepace/sessions"
)

// One sheet of paper that was entered twice, with different numbers, is one session. Of
// two versions with as many entries always the same is read, and the other can be seen.
func TestVersions(t *testing.T) {
	dir := t.TempDir()
	enter := func(name string, ticks ...Tick) string {
		path := filepath.Join(dir, name)
		d := must(Open(path))
		for i := range ticks {
			ticks[i].Date, ticks[i].Number = "2026-12-01", 1
		}
		must(d.Enter(Sheet{Repetitions: 10}, always(common()), ticks))
		check(d.Close())
		return path
	}
	eight, ten := enter("eight.db", Tick{Repetitions: 8}), enter("ten.db", Tick{Repetitions: 10})
	rated := enter("rated.db", Tick{Repetitions: 6, Before: sessions.Ratings{Tingling: of(2)}, After: sessions.Ratings{Tingling: of(1)}})
	var read, want string
	for _, order := range [][]string{{eight, ten}, {ten, eight, eight}, {eight, ten, eight}} {
		d := fresh(t)
		var m Joined
		for _, path := range order {
			m = must(d.MergeVersions(path))
		}
		s := only(t, d)
		if len(m.Versions) != 1 || len(s.OtherVersions) != 1 || s.Done.Repetitions+s.OtherVersions[0].Done.Repetitions != 18 {
			t.Fatalf("merged %+v, session\n%s", m, s)
		}
		if n := must(d.CountOn("2026-12-01", Key{Patient: s.Patient, Title: s.Title})); n != 1 {
			t.Errorf("counted %d times", n)
		}
		if !strings.Contains(s.String(), "Another version of this session, 1 of 1, which is not counted:") {
			t.Errorf("it says\n%s", s)
		}
		if read = s.String(); want == "" {
			want = read
		} else if read != want {
			t.Errorf("in the order %v\n%s\nwant\n%s", order, read, want)
		}
		// What is kept is no reason to refuse a diary, but something new is.
		if m, err := d.Merge(eight); err != nil || len(m.There) != 1 {
			t.Errorf("a version that is known: %+v, %v", m, err)
		}
		if err := refused(t, d, rated); !errors.As(err, new(*ConflictError)) {
			t.Errorf("another version: %v", err)
		}
		must(d.MergeVersions(rated))
		if s := only(t, d); s.Done.Repetitions != 6 || len(s.OtherVersions) != 2 {
			t.Errorf("the version with the most events is not read:\n%s", s)
		}
	}
}

// told is what one of several diaries tells of a session: one of two versions that begin
// alike, so many events of it, and some of the notes.
type told struct {
	Version, Events int
	Notes           []int
}

func (s told) write(d *Diary, id string) {
	outcome := "interrupted"
	if s.Events == 6 {
		outcome = "completed"
	}
	must(d.db.Exec(`INSERT INTO sessions (id, title, patient, prescription, offset_min, planned_sets, planned_reps, planned_breaths, rate_start, rate_end, "match", sound, source, extra, done_reps, outcome)
		VALUES (?, 'Invented', 'DEMO-1', 'v1', 0, 1, 10, 10, 8, 8, 'exhale-on-glide', 'off', 'paced', 0, ?, ?)`, id, s.Events, outcome))
	event := func(seq int64, kind Kind, side, detail string) {
		must(d.db.Exec("INSERT INTO events VALUES (?, ?, 0, ?, 0, ?, 0, 0, 0, 0, 0, ?)", id, seq, kind, side, detail))
	}
	for n := range s.Events {
		side := "right"
		if n > 2 && s.Version == 1 {
			side = "left"
		}
		event(int64(n), Repetition, side, "")
	}
	for _, n := range s.Notes { // two of them have the same number
		event(firstLater+int64(n/2), Noted, "", fmt.Sprintf(`{"text":"%d"}`, n))
	}
}

// However a session is divided among diaries, in whatever order they are merged, however
// often, and whichever are merged into each other first: it is the same in the end.
func TestMergeInAnyOrder(t *testing.T) {
	ids := []string{"a000000000", "b000000000"}
	diaries := rapid.SliceOfN(rapid.MapOf(rapid.SampledFrom(ids), rapid.Custom(func(t *rapid.T) told {
		return told{rapid.IntRange(0, 1).Draw(t, "version"), rapid.IntRange(1, 6).Draw(t, "events"),
			rapid.SliceOfDistinct(rapid.IntRange(0, 3), func(n int) int { return n / 2 }).Draw(t, "notes")}
	})), 3, 3)
	versions := 0
	for seed := range 10 {
		dir := t.TempDir()
		var paths []string
		for i, all := range diaries.Example(seed) {
			paths = append(paths, filepath.Join(dir, fmt.Sprint(i)))
			d := must(Open(paths[i]))
			for id, s := range all {
				s.write(d, id)
			}
			check(d.Close())
		}
		merged := func(paths ...string) (string, []string) {
			d := fresh(t)
			for _, path := range paths {
				versions += len(must(d.MergeVersions(path)).Versions)
			}
			return d.path, everything(d)
		}
		_, want := merged(paths...)
		_, again := merged(paths[2], paths[2], paths[0], paths[1], paths[0])
		pair, _ := merged(paths[1], paths[2])
		_, nested := merged(paths[0], pair)
		for _, got := range [][]string{again, nested} {
			if !slices.Equal(got, want) {
				t.Errorf("seed %d:\n%s\nwant\n%s", seed, strings.Join(got, "\n"), strings.Join(want, "\n"))
			}
		}
	}
	if versions == 0 {
		t.Error("nothing was told differently")
	}
}
