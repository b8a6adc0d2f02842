package review

import (
	"bytes"
	"encoding/csv"
	"slices"
	"strings"
	"testing"

	"glidepace/sessions"
)

// hostile are two weeks of somebody whose title and code a spreadsheet would run.
func hostile(t testing.TB) []byte {
	t.Helper()
	list := course(dose(2, 2, 0, 1), "yy y. s . . . yy")
	for i := range list {
		list[i].Title, list[i].Patient = "=HYPERLINK(\"http://x\"), \"a\"\r\nb", "+K-204"
		rated(3, 4)(&list[i])
	}
	courses, err := Courses(each(list, with(course(nil, "y"), func(s *Session) { s.ID, s.Patient = "other", "K-9" }, 0)), Options{Today: day(9)})
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := WriteCSV(&b, courses); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// A line for each patient and week; what is not known is empty. K-9 was not seen for days.
var hostileRows = [][]string{
	{"K-9", "First week", "2026-W49", "2026-12-01", "2026-12-06", "", "", "", "", "", "1", "0", "0", "0", "0", "0", "", "", "", ""},
	{"'+K-204", "'=HYPERLINK(\"http://x\"), \"a\"\r\nb", "2026-W49", "2026-12-01", "2026-12-06", "10", "3", "0.3", "100", "30", "3", "0", "0", "1", "0", "1", "3", "4", "", ""},
	{"'+K-204", "'=HYPERLINK(\"http://x\"), \"a\"\r\nb", "2026-W50", "2026-12-07", "2026-12-09", "4", "2", "0.5", "40", "20", "2", "0", "0", "0", "0", "0", "3", "4", "", ""},
}

// checkRows compares rows that a reader of CSV found, by the names of their columns.
func checkRows(t *testing.T, rows [][]string) {
	t.Helper()
	names := []string{"patient", "title", "iso_week", "from", "to", "prescribed_sessions", "done_sessions", "share", "asked_repetitions", "done_repetitions",
		"completed", "ended_early", "interrupted", "stopped_for_symptoms", "extra", "stops", "tingling_before_mean", "tingling_after_mean", "pain_before_mean", "pain_after_mean"}
	if len(rows) != 1+len(hostileRows) {
		t.Fatalf("%d rows: %q", len(rows), rows)
	}
	for n, want := range hostileRows {
		for i, name := range names {
			if got := rows[1+n][slices.Index(rows[0], name)]; got != want[i] {
				t.Errorf("row %d, %s: %q, want %q", n, name, got, want[i])
			}
		}
	}
}

func TestCSV(t *testing.T) {
	text := hostile(t)
	if bytes.Count(text, []byte("\r\n")) != bytes.Count(text, []byte("\n")) {
		t.Error("a line does not end with CRLF")
	}
	rows, err := csv.NewReader(bytes.NewReader(text)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range rows { // this reader makes \n of a line break in a cell
		r[1] = strings.ReplaceAll(r[1], "\n", "\r\n")
	}
	checkRows(t, rows)
}

func TestNote(t *testing.T) {
	list := with(course(dose(2, 2, 0, 1), "yy y. yy yy yx"), stoppedFor(sessions.Tingling), 4)
	for i := range list {
		rated(max(2, 5-i), 2)(&list[i])
	}
	got := only(t, list, Options{Today: day(6)})
	const want = "K-204. Home sessions from 1 December 2026 to 6 December 2026: 8 of 10 sessions prescribed (80 %); 80 of 100 repetitions (80 %). " +
		"1 stop at repetition 7, settled in 70 s. Tingling before sessions: 4 at the beginning, 2 now (-2). Pace 8 breaths a minute."
	if got.Note() != want {
		t.Errorf("%s\nwant\n%s", got.Note(), want)
	}
	list = with(with(course(nil, "s y"), func(s *Session) { s.Patient = "" }, 0, 1), level(10, 1), 1)
	got = only(t, list, Options{Today: day(3)})
	const unknown = "Home sessions from 1 December 2026 to 3 December 2026: 1 session completed; the prescribed number is not known. " +
		"1 session ended for symptoms. 1 stop at repetition 5. Pace 8 breaths a minute, 10 of 10 repetitions a set in the latest session."
	if got.Note() != unknown {
		t.Errorf("%s\nwant\n%s", got.Note(), unknown)
	}
	// A first session on paper was cut short, and rated only after.
	list = with(course(dose(2, 2, 0, 1), "p"), func(s *Session) { s.Outcome, s.Done, s.After.Tingling = sessions.EndedEarly, 3, new(6) }, 0)
	got = only(t, with(list, level(10, 1), 0), Options{Today: day(1)})
	const early = "K-204. Home sessions from 1 December 2026 to 1 December 2026: too early to say, 3 of 10 repetitions done. 1 session cut short. " +
		"Stops are not recorded on paper. Tingling 6 after; before not rated. Pace 8 breaths a minute, 10 of 10 repetitions a set planned last time, 3 of 10 done."
	if got.Note() != early {
		t.Errorf("%s\nwant\n%s", got.Note(), early)
	}
}
