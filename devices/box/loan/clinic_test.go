package loan

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"glidepace/devices/box"
)

func TestTheClinicKnowsTheLoan(t *testing.T) {
	card, clinic := t.TempDir(), newClinic(t)
	loadFrom(t, clinic, card, "K-204")
	same(t, "lent", loansOf(t, clinic), "Box 3 to K-204, lent")
	use(t, card, "K-204")
	back(t, card, clinic)
	same(t, "back", loansOf(t, clinic), "Box 3 to K-204, lent, back 2027-01-04")

	// One that another computer loaded gets its line where it comes back.
	load(t, card, "K-311")
	back(t, card, clinic)
	same(t, "from elsewhere", loansOf(t, clinic), "Box 3 to K-204, lent, back 2027-01-04\nBox 3 to K-311, lent, back 2027-01-04")
}

// While the diary of a loan is missing, the loan is not closed.
func TestALoanWhoseDiaryIsMissingStaysOpen(t *testing.T) {
	card, clinic := t.TempDir(), newClinic(t)
	loadFrom(t, clinic, card, "K-204")
	do(t, os.Remove(filepath.Join(card, "diary.db")))
	_, err := Back(card, clinic, today, false)
	refused(t, "without its diary", err, "is gone or damaged")
	same(t, "the loan", loansOf(t, clinic), "Box 3 to K-204, lent")
	_, err = Back(card, clinic, today, true)
	do(t, err)
	same(t, "the loan", loansOf(t, clinic), "Box 3 to K-204, lent, back 2027-01-04")
}

// Without a record it is the loan of the box that the box file names, to the patient
// in the session file.
func TestALoanWithoutARecordIsClosed(t *testing.T) {
	card, clinic := t.TempDir(), newClinic(t)
	loadFrom(t, clinic, t.TempDir(), "K-311")
	loadFrom(t, clinic, card, "K-204")
	do(t, os.Remove(filepath.Join(card, RecordName)))
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
