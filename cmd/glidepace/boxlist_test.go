package main

import (
	"strings"
	"testing"
	"time"

	"glidepace/sessions"
	"glidepace/sessions/diary"
)

func TestLoanLines(t *testing.T) {
	day := func(text string) sessions.Date { return dateOf(t, text) }
	loan := func(box, patient, out, due string, change func(*diary.Loan)) diary.Loan {
		l := diary.Loan{Box: box, Patient: patient, Due: day(due), Stage: diary.Lent, Out: outOn(t, out)}
		if change != nil {
			change(&l)
		}
		return l
	}
	backOn := func(date string) func(*diary.Loan) { return func(l *diary.Loan) { l.Back = day(date) } }
	var b strings.Builder
	for _, l := range loanLines([]diary.Loan{
		loan("Box 1", "A-1", "2026-10-01", "2026-11-12", backOn("2026-11-12")),
		loan("Box 2", "A-2", "2026-10-02", "2026-11-12", backOn("2026-11-14")),
		loan("Box 3", "A-3", "2026-10-03", "2026-11-12", nil),
		loan("Box 4", "A-4", "2026-10-04", "2026-11-30", nil),
		loan("Box 5", "A-5", "2026-10-05", "2026-11-29", nil),
		loan("Box 6", "A-6", "2026-10-06", "2026-11-01", func(l *diary.Loan) { l.Lost = day("2026-11-20") }),
		loan("Box 7", "A-7", "2026-10-07", "2026-11-01", nil),
		loan("Box 8", "A-8", "2026-10-08", "2026-11-01", func(l *diary.Loan) { l.Stage = diary.LoadingBegan }),
		loan("box 7", "A-9", "2026-11-15", "2026-12-24", nil),
		loan("Box 1", "A-3", "2026-11-16", "2026-12-24", nil),
		loan("Box 9", "A-1", "2026-11-17", "2026-12-24", func(l *diary.Loan) { l.Lost, l.Back = day("2026-11-20"), day("2026-11-21") }),
	}, day("2026-11-30")) {
		b.WriteString(l.Box + " " + l.Patient + ": " + l.words() + "\n")
	}
	const want = `Box 7 A-7: overdue, 29 days late; lent again 2026-11-15
Box 3 A-3: overdue, 18 days late
Box 5 A-5: overdue, 1 day late
Box 4 A-4: out
box 7 A-9: out
Box 1 A-3: out
Box 8 A-8: loading was cut off: load the card again, or bring it back
Box 6 A-6: lost since 2026-11-20
Box 9 A-1: back 2026-11-21
Box 2 A-2: back 2026-11-14, 2 days late
Box 1 A-1: back 2026-11-12
`
	if got := b.String(); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}

func outOn(t *testing.T, date string) time.Time {
	t.Helper()
	at, err := time.Parse(time.DateOnly, date)
	if err != nil {
		t.Fatal(err)
	}
	return at
}
