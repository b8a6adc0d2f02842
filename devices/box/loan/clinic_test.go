package loan

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"glidepace/devices/box"
)

func TestTheClinicKnowsTheLoan(t *testing.T) {
	card, clinic := t.TempDir(), newClinic(t)
	loadFrom(t, clinic, card, "K-204")
	same(t, "lent", loansOf(t, clinic), "Box 3 to K-204, lent")
	use(t, card, "K-204")
	_, err := Back(card, clinic, known)
	do(t, err)
	same(t, "back", loansOf(t, clinic), "Box 3 to K-204, lent, back 2027-01-04")

	// One that another computer loaded gets its line where it comes back.
	load(t, card, "K-311")
	back(t, card, clinic)
	same(t, "from elsewhere", loansOf(t, clinic), "Box 3 to K-204, lent, back 2027-01-04\nBox 3 to K-311, lent, back 2027-01-04")
}

// A diary that does not know the loan may be the wrong one: nothing comes into it, the
// card stays as it is, and no diary is made.
func TestTheWrongDiaryIsRefused(t *testing.T) {
	card, right, wrong := t.TempDir(), newClinic(t), newClinic(t)
	loadFrom(t, right, card, "K-204")
	record := snapshot(t, card)[RecordName]
	use(t, card, "K-204")
	stays := func(what string, how Return, says string) {
		t.Helper()
		before, clinics := snapshot(t, card), snapshot(t, filepath.Dir(wrong))
		r, err := Back(card, wrong, how)
		refused(t, what, err, "nothing was wiped", says)
		if r.Merged || r.Added != 0 {
			t.Errorf("%s: %+v", what, r)
		}
		same(t, what+": the card", snapshot(t, card), before)
		same(t, what+": the diary", snapshot(t, filepath.Dir(wrong)), clinics)
	}
	stays("no diary", known, "no diary yet")
	stays("no diary, and any loan", anyLoan, "no diary yet")

	// It knows the box and the patient, of another day.
	other := sample("K-204")
	other.Out = other.Out.Add(-time.Hour)
	_, err := Load(t.TempDir(), wrong, other)
	do(t, err)
	stays("another day's loan", known, "knows nothing of the loan of Box 3 to K-204 on 2026-12-01")

	// Without a record the box and the patient have to do.
	do(t, os.Remove(filepath.Join(card, RecordName)))
	put(t, card, box.FileName, strings.Replace(boxYAML, "Box 3", "Box 4", 1))
	stays("another box", known, "knows nothing of the loan of Box 4 to K-204")
	put(t, card, box.FileName, boxYAML)
	put(t, card, "session.yaml", fmt.Sprintf(sessionYAML, "K-311"))
	stays("another patient", known, "knows nothing of the loan of Box 3 to K-311")
	put(t, card, RecordName, record)
	_, err = Back(card, right, known)
	do(t, err)
	same(t, "the loan", loansOf(t, right), "Box 3 to K-204, lent, back 2027-01-04")
}

// A box that is out is lent again only on purpose: it may be another that is meant.
func TestABoxThatIsOut(t *testing.T) {
	card, clinic := t.TempDir(), newClinic(t)
	loadFrom(t, clinic, t.TempDir(), "K-204")
	next := sample("K-311")
	next.Out = next.Out.AddDate(0, 0, 1)
	_, err := Load(card, clinic, next)
	refused(t, "out", err, "Box 3 is still out with K-204 since 2026-12-01, due 2027-01-12")
	if out, ok := errors.AsType[*BoxOutError](err); !ok || out.Loan.Patient != "K-204" {
		t.Errorf("%v", err)
	}
	holds(t, "the card", card)
	next.LendAgain = true
	_, err = Load(card, clinic, next)
	do(t, err)
	same(t, "the loans", loansOf(t, clinic), "Box 3 to K-204, lent\nBox 3 to K-311, lent")
}

// While the diary of a loan is missing, the loan is not closed.
func TestALoanWhoseDiaryIsMissingStaysOpen(t *testing.T) {
	card, clinic := t.TempDir(), newClinic(t)
	loadFrom(t, clinic, card, "K-204")
	do(t, os.Remove(filepath.Join(card, "diary.db")))
	_, err := Back(card, clinic, anyLoan)
	refused(t, "without its diary", err, "is gone or damaged")
	same(t, "the loan", loansOf(t, clinic), "Box 3 to K-204, lent")
	_, err = Back(card, clinic, withoutDiary)
	do(t, err)
	same(t, "the loan", loansOf(t, clinic), "Box 3 to K-204, lent, back 2027-01-04")
}

// Without a record it is the loan of the box that the box file names, to the patient
// in the session file.
func TestALoanWithoutARecordIsClosed(t *testing.T) {
	card, clinic := t.TempDir(), newClinic(t)
	loadFrom(t, clinic, t.TempDir(), "K-311")
	again := sample("K-204")
	again.LendAgain = true
	_, err := Load(card, clinic, again)
	do(t, err, os.Remove(filepath.Join(card, RecordName)))
	back(t, card, clinic)
	same(t, "the loans", loansOf(t, clinic), "Box 3 to K-204, lent, back 2027-01-04\nBox 3 to K-311, lent")
}

// Where loading was cut off, another card is loaded for the box: that says nothing of
// the first one.
func TestLoadingThatWasCutOffStaysKnown(t *testing.T) {
	card, clinic := t.TempDir(), newClinic(t)
	for n := 1; loansOf(t, clinic) != "Box 3 to K-204, begun"; n++ {
		do(t, os.RemoveAll(card), os.Mkdir(card, 0o700))
		if !killedAt(t, n, "load", card, clinic) {
			t.Fatal("no moment at which the clinic knows that loading began")
		}
	}
	other := sample("K-311")
	other.Out = other.Out.Add(time.Hour)
	_, err := Load(t.TempDir(), clinic, other)
	do(t, err)
	same(t, "the loans", loansOf(t, clinic), "Box 3 to K-204, begun\nBox 3 to K-311, lent")
	put(t, card, box.FileName, boxYAML)
	back(t, card, clinic)
	same(t, "the loans", loansOf(t, clinic), "Box 3 to K-311, lent")
}

// A card is not loaded where the clinic's diary cannot be written.
func TestLoadNeedsTheClinicsDiary(t *testing.T) {
	card, clinic := t.TempDir(), newClinic(t)
	do(t, os.WriteFile(clinic, []byte("by hand, and much more of it than a short note"), 0o600))
	_, err := Load(card, clinic, sample("K-204"))
	refused(t, "into what is no diary", err, "not a diary")
	holds(t, "the card", card)
	_, err = Load(card, filepath.Join(card, "clinic.db"), sample("K-204"))
	refused(t, "onto the card", err, "would be on the card")
	holds(t, "the card", card)
}
