package diary

import (
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"glidepace/sessions"
)

// boxLent is a loan of Box 3 on the 1st of December.
func boxLent(t *testing.T, patient string) Loan {
	return Loan{Box: "Box 3", Patient: patient, Out: zoned(t, "Europe/Berlin", "2026-12-01 09:30:15"), Due: day(t, "2027-01-12"), Stage: Lent}
}

// loansText writes the loans of a diary, a line each.
func loansText(t *testing.T, d *Diary) string {
	t.Helper()
	list, faults, err := d.Loans()
	do(t, err)
	var lines []string
	for _, l := range list {
		lines = append(lines, fmt.Sprintf("%s %s %s due %s stage %d back %s lost %s", l.Box, l.Patient, l.Out.Format(time.RFC3339), l.Due, l.Stage, l.Back, l.Lost))
	}
	return strings.Join(append(lines, faults...), "\n")
}

// Accounts of one loan add up to the same in whichever order they come, and however
// often each does.
func TestAccountsOfALoanInAnyOrder(t *testing.T) {
	d := fresh(t)
	n := 0
	rapid.Check(t, func(r *rapid.T) {
		days := rapid.SampledFrom([]sessions.Date{{}, day(t, "2026-12-20"), day(t, "2026-12-24")})
		accounts := rapid.SliceOfN(rapid.Custom(func(r *rapid.T) Loan {
			l := boxLent(t, "")
			l.Stage = rapid.SampledFrom([]LoanStage{LoadingBegan, NotLoaded, Lent}).Draw(r, "stage")
			l.Back, l.Lost = days.Draw(r, "back"), days.Draw(r, "lost")
			return l
		}), 1, 4).Draw(r, "accounts")
		other := slices.Concat(rapid.Permutation(accounts).Draw(r, "other order"), accounts[:1])
		n++
		var got [2]Loan
		for i, list := range [][]Loan{accounts, other} {
			for _, l := range list {
				l.Patient = fmt.Sprintf("K-%d-%d", n, i)
				do(t, d.KeepLoan(l))
			}
			all, _, err := d.Loans()
			do(t, err)
			for _, l := range all {
				if l.Patient == fmt.Sprintf("K-%d-%d", n, i) {
					got[i] = l
					got[i].Patient = ""
				}
			}
		}
		if fmt.Sprint(got[0]) != fmt.Sprint(got[1]) {
			r.Fatalf("%v, in another order %v", got[0], got[1])
		}
	})
}

func TestMergeBringsLoans(t *testing.T) {
	there, both := boxLent(t, "K-204"), boxLent(t, "K-311")
	here := fresh(t)
	cut := boxLent(t, "K-500")
	cut.Stage = LoadingBegan
	do(t, here.KeepLoan(both), here.KeepLoan(cut))
	other := card(t, filepath.Join(t.TempDir(), "other.db"))
	both.Back, cut.Stage = day(t, "2026-12-24"), Lent
	do(t, other.KeepLoan(there), other.KeepLoan(both), other.KeepLoan(cut), other.Close())
	const want = `Box 3 K-204 2026-12-01T09:30:15+01:00 due 2027-01-12 stage 2 back 0001-01-01 lost 0001-01-01
Box 3 K-311 2026-12-01T09:30:15+01:00 due 2027-01-12 stage 2 back 2026-12-24 lost 0001-01-01
Box 3 K-500 2026-12-01T09:30:15+01:00 due 2027-01-12 stage 2 back 0001-01-01 lost 0001-01-01`
	for range 2 {
		must(here.Merge(other.path))
		if got := loansText(t, here); got != want {
			t.Errorf("merged:\n%s\nwant\n%s", got, want)
		}
	}
	must(opened(t, other.path).Merge(here.path))
	if got := loansText(t, opened(t, other.path)); got != want {
		t.Errorf("merged the other way:\n%s\nwant\n%s", got, want)
	}

	// What no version writes is not merged.
	spoiled := opened(t, other.path)
	must(spoiled.db.Exec("UPDATE loans SET due = 'soon' WHERE patient = 'K-204'"))
	if got := loansText(t, spoiled); !strings.Contains(got, `the loan of "Box 3" to "K-204" cannot be read in full: due: "soon"; allowed is a time like 2006-01-02`) {
		t.Errorf("got\n%s", got)
	}
	if _, err := here.Merge(other.path); !errors.As(err, new(*RowError)) || !strings.Contains(err.Error(), `a loan: due: "soon"`) {
		t.Errorf("merged: %v", err)
	}
}

func TestLoanOf(t *testing.T) {
	d := fresh(t)
	first, second := boxLent(t, "K-204"), boxLent(t, "K-311")
	second.Out = second.Out.Add(24 * time.Hour)
	began := second
	began.Out, began.Stage = began.Out.Add(time.Hour), LoadingBegan
	do(t, d.KeepLoan(first), d.KeepLoan(second), d.KeepLoan(began))
	for _, c := range []struct{ box, patient, want string }{
		{"box 3", "", "K-311"}, {"Box 3", "K-204", "K-204"}, {"Box 3", "K-999", ""}, {"Box", "", ""},
	} {
		l, found, err := d.LoanOf(c.box, c.patient)
		if err != nil || l.Patient != c.want || found != (c.want != "") {
			t.Errorf("%q to %q: %+v, %v, %v", c.box, c.patient, l, found, err)
		}
	}
	second.Lost, first.Back = day(t, "2027-01-20"), day(t, "2026-12-24")
	do(t, d.KeepLoan(second), d.KeepLoan(first))
	if l, found, err := d.LoanOf("Box 3", ""); found || err != nil {
		t.Errorf("lost and back: %+v, %v", l, err)
	}
	if l, found, err := d.LoadingOf("Box 3", began.Out); !found || err != nil || !l.Out.Equal(began.Out) {
		t.Errorf("the one whose loading began: %+v, %v, %v", l, found, err)
	}
}

func TestPatientCode(t *testing.T) {
	d := fresh(t)
	for _, code := range []string{"K-204", "A-1", "a-1"} {
		s := sample(time.Now())
		s.Patient = code
		do(t, begun(t, d, s).End(ending(1)))
	}
	do(t, d.KeepLoan(boxLent(t, "B-7")))
	for _, c := range []struct {
		given, want string
		found       bool
	}{
		{"K-204", "K-204", true}, {"k-204", "K-204", true}, {"b-7", "B-7", true},
		{"a-1", "a-1", true}, {"A-1", "A-1", true}, {"K-2", "K-2", false}, {"K%", "K%", false},
	} {
		if code, found, err := d.PatientCode(c.given); code != c.want || found != c.found || err != nil {
			t.Errorf("%s: %s, %v, %v", c.given, code, found, err)
		}
	}
	var several *PatientError
	do(t, d.KeepLoan(boxLent(t, "Ab-1")), d.KeepLoan(boxLent(t, "aB-1")))
	if _, _, err := d.PatientCode("AB-1"); !errors.As(err, &several) || !slices.Equal(several.Codes, []string{"Ab-1", "aB-1"}) {
		t.Errorf("two that differ in case: %v", err)
	}
}

func TestLast(t *testing.T) {
	d := fresh(t)
	if _, err := d.Last(Filter{}); err != ErrNoSession {
		t.Errorf("of none: %v", err)
	}
	for i, code := range []string{"K-204", "K-311"} {
		s := sample(zoned(t, "Europe/Berlin", "2026-12-01 08:30:00").AddDate(0, 0, -i))
		s.Patient = code
		do(t, begun(t, d, s).End(ending(1)))
	}
	for code, want := range map[string]string{"": "K-204", "K-311": "K-311"} {
		if s := must(d.Last(Filter{Patient: code})); s.Patient != want || len(s.Events) == 0 {
			t.Errorf("of %q: %+v", code, s)
		}
	}
}
