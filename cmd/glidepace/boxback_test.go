package main

import (
	"strings"
	"testing"
	"time"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/devices/box/loan"
	"glidepace/sessions"
	"glidepace/sessions/diary"
)

func dateOf(t *testing.T, text string) sessions.Date {
	t.Helper()
	d, err := sessions.ParseDate(text)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func TestLoanReport(t *testing.T) {
	two, one := 2, 1
	planned := diary.Amount{Repetitions: 10}
	back := &loan.Returned{
		Record: &loan.Record{Box: "Box 3", Patient: "K-204", Out: time.Date(2026, 12, 1, 9, 0, 0, 0, time.UTC), Due: dateOf(t, "2026-12-29")},
		Merged: true, Added: 3, Extended: 1, Looked: 1,
		Sessions: []diary.Session{
			{Patient: "K-204", Planned: planned, Done: diary.Amount{Repetitions: 10}, Outcome: sessions.Completed, Number: 1, Boot: &diary.Boot{}, Felt: sessions.NoStronger},
			{Patient: "K-204", Planned: planned, Done: diary.Amount{Repetitions: 4}, Outcome: sessions.Symptoms, EndedBy: sessions.NotSaid, NotInTime: true, Number: 2, Boot: &diary.Boot{}, Felt: sessions.Stronger},
			{Patient: "K-204", Planned: planned, Done: diary.Amount{Repetitions: 3}, Outcome: sessions.Interrupted, Number: 3, Boot: &diary.Boot{}},
			{Patient: "K-204", Planned: planned, Done: planned, Outcome: sessions.Completed, Date: "2026-12-03", Before: sessions.Ratings{Tingling: &two, Pain: &one}, After: sessions.Ratings{Tingling: &one, Pain: &one}},
			{Patient: "K-311", Planned: planned, Outcome: sessions.EndedEarly, Date: "2026-12-04"},
		},
		Wiped:  []string{"a", "b", "c", "d", "e", "f", "g", "loan.yaml"},
		Unread: []string{"lost+found"},
		Traces: []loan.Trace{{File: "mark.txt", What: "the patient code"}, {File: "K-204.txt", What: "the patient code", Name: true}},
	}
	for today, want := range map[string]string{"2026-12-30": "1 day late", "2026-12-29": "on the day", "2026-12-27": "2 days early"} {
		r := newLoanReport(back, "card", "clinic.db", dateOf(t, today))
		if r.due != want {
			t.Errorf("%s is %q, want %q", today, r.due, want)
		}
	}
	r := newLoanReport(back, "card", "clinic.db", dateOf(t, "2026-12-30"))
	r.clean = true
	var b strings.Builder
	r.write(console.NewPrinter(&b))
	want := `Box 3, lent to K-204 on 2026-12-01, due 2026-12-29: back 2026-12-30, 1 day late.
1 session with another patient code than K-204: see glidepace diary list.

STARTED                   REPETITIONS  OUTCOME                       SYMPTOMS
date not known, number 1  10 of 10     completed                     no stronger
date not known, number 2  4 of 10      stopped, not settled in time  stronger
date not known, number 3  3 of 10      interrupted                   not asked
2026-12-03                10 of 10     completed                     2/1 → 1/1
2026-12-04                0 of 10      ended early                   not asked
5 sessions: 2 completed, 1 ended early, 1 stopped, 1 interrupted; 27 repetitions
done.
All are in clinic.db; there before: 1; there in part: 1.

Wiped from the card: a, b, c, d, e, f, 2 more.
- mark.txt holds what may be the patient code
- K-204.txt has in its name what may be the patient code
Not looked into, because they cannot be read; loading writes nothing there:
lost+found.
A memory card may keep traces of what was wiped, where no file shows them: it
writes new data elsewhere and leaves the old for a while. Where local rules ask
for more, lend with a fresh or an encrypted card.
`
	if got := b.String(); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}

	// "Nothing is left" is said only about what was looked through.
	for want, change := range map[string]func(r *loanReport){
		"Nothing of the loan is left in the folder card (2 files looked through); nothing outside it was looked through.": func(*loanReport) {},
		"Nothing of the loan is left in the folder card (2 files looked through).":                                        func(r *loanReport) { r.Volume = "card" },
		"Nothing of the loan is left in the folder card (2 files looked through), nor in the rest of /media (1 file).":    func(r *loanReport) { r.Volume, r.Outside = "/media", 1 },
		"Nothing of the loan is left in the folder card (2 files looked through), nor in the rest of /media (0 files); there were more or larger files there, which were not looked through.": func(r *loanReport) {
			r.Volume, r.Cut = "/media", true
		},
		"Nothing that the record of the loan and clinic.db say about K-204 is left in the folder card (2 files looked through).": func(r *loanReport) {
			r.Volume, r.Again, r.Diary, r.Patient = "card", true, "clinic.db", "K-204"
		},
		"Nothing was looked for: no record on the card says whose loan it was.":                                              func(r *loanReport) { r.Again = true },
		"Apart from recordings, if there were any, nothing of the loan is left in the folder card (2 files looked through).": func(r *loanReport) { r.Volume, r.noRecord = "card", true },
	} {
		r := loanReport{from: "card", Looked: 2}
		change(&r)
		if got := r.nothingLeft(); got != want {
			t.Errorf("%s\nwant\n%s", got, want)
		}
	}

	// After trouble it says only what was wiped and what was not.
	back.Wiped, back.Left, back.Traces, back.Unread = []string{"diary.db"}, []string{"session.yaml", "loan.yaml"}, nil, nil
	b.Reset()
	newLoanReport(back, "card", "clinic.db", dateOf(t, "2026-12-30")).writeCard(console.NewPrinter(&b))
	want = "Wiped from the card: diary.db.\nNot wiped, and still on the card: session.yaml, loan.yaml.\n"
	if got := b.String(); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}

func TestNotesOfALoan(t *testing.T) {
	for want, b := range map[string]*loan.Returned{
		"The card had no record of a loan":          {Merged: true},
		"The card was not loaded to the end":        {Merged: true, Record: &loan.Record{Loading: true}},
		"There was no diary on the card: nothing":   {Merged: true, NoDiary: true, Record: &loan.Record{}},
		"The diary of this card was merged earlier": {Merged: true, NoDiary: true, Again: true},
		"Stopped for a warning sign: 1 session. On the box any stop in a neck glide counts as one: ask what it was.": {Merged: true, Record: &loan.Record{},
			Sessions: []diary.Session{{Stops: []diary.Stop{{Symptom: sessions.WarningSign}}}, {Stops: []diary.Stop{{Symptom: sessions.Pain}}}}},
	} {
		r := newLoanReport(b, "card", "clinic.db", sessions.Date{})
		if len(r.Notes) != 1 || !strings.HasPrefix(r.Notes[0], want) {
			t.Errorf("%q, want %q", r.Notes, want)
		}
	}
	if r := newLoanReport(&loan.Returned{Nothing: true}, "card", "clinic.db", sessions.Date{}); r.Notes != nil {
		t.Errorf("%q", r.Notes)
	}
}

func TestDueDate(t *testing.T) {
	today := dateOf(t, "2026-12-01")
	for _, c := range []struct {
		due   string
		weeks int
		dose  *sessions.Dose
		want  string // or the error's beginning
	}{
		{"2026-12-01", 0, nil, "2026-12-01"},
		{"2026-11-30", 0, nil, "--due 2026-11-30 is in the past"},
		{"2027-11-30", 0, nil, "2027-11-30"},
		{"2027-12-01", 0, nil, "--due 2027-12-01 is more than 52 weeks ahead: the latest is 2027-11-30"},
		{"2026-12-29", 6, nil, "--due and --weeks both say"},
		{"", 0, &sessions.Dose{Days: 7, Start: dateOf(t, "2027-12-01")}, "the course in the session file ends before 2027-12-08, more than 52 weeks ahead: say"},
		{"1.12.", 0, nil, `--due "1.12."`},
		{"", 6, &sessions.Dose{Days: 7}, "2027-01-12"},
		{"", -1, nil, "--weeks -1"},
		{"", 0, &sessions.Dose{Days: 7}, "2026-12-08"},
		{"", 0, &sessions.Dose{Days: 7, Start: dateOf(t, "2026-12-05")}, "2026-12-12"},
		{"", 0, &sessions.Dose{Days: 7, Start: dateOf(t, "2026-11-01")}, "the course in the session file ended"},
		{"", 0, &sessions.Dose{}, "when is the box due back?"},
		{"", 0, nil, "when is the box due back?"},
	} {
		d, err := dueDate(c.due, c.weeks, c.dose, today)
		got := d.String()
		if err != nil {
			got = err.Error()
		}
		if !strings.HasPrefix(got, c.want) {
			t.Errorf("%+v: %s", c, got)
		}
	}
}
