package loan

import (
	"strings"
	"testing"
	"time"

	"glidepace/sessions"
)

// written is a record as every version has written it.
const written = `glidepace-loan: 1
state: out
box: 'Box: 3'
patient: "007"
out: "2026-12-01T09:30:00Z"
due: "2026-12-29"
cleared: true
session: s.yaml
diary: d/diary.db
recordings:
    - spoken/in.wav
`

func TestRecord(t *testing.T) {
	due := time.Date(2026, 12, 29, 0, 0, 0, 0, time.UTC)
	record := &Record{Box: "Box: 3", Patient: "007", Out: time.Date(2026, 12, 1, 9, 30, 0, 0, time.UTC), Due: sessions.DateOf(due), Cleared: true,
		Files: Files{"s.yaml", "d/diary.db", []string{"spoken/in.wav"}}}
	for _, text := range []string{written, string(record.content())} {
		read, err := parseRecord([]byte(text))
		do(t, err)
		same(t, text, read, record)
		same(t, text, read.Due.String(), "2026-12-29")
	}
	begun := &Record{Loading: true, Patient: "007", Files: record.Files}
	if text := string(begun.content()); strings.Contains(text, "007") || !strings.Contains(text, "state: loading") {
		t.Errorf("while loading: %s", text)
	}
	for _, change := range [][2]string{
		{"glidepace-loan: 1", "glidepace-loan: 2"}, {"state: out", "state: lost"}, {"2026-12-29", "soon"}, {"2026-12-01T", "yesterday "}, {"out: ", "# "},
		{"s.yaml", "../s.yaml"}, {"s.yaml", "/s.yaml"}, {"s.yaml", "box.yaml"}, {"s.yaml", `""`}, {"d/diary.db", "S.yaml"}, {"spoken/in.wav", "spoken/../in.wav"},
		{"box:", "boxes:"}, {written, ""},
	} {
		text := strings.Replace(written, change[0], change[1], 1)
		if text == written {
			t.Fatalf("nothing to change: %v", change)
		}
		if r, err := parseRecord([]byte(text)); err == nil {
			t.Errorf("%v: %+v", change, r)
		}
	}
}
