package loan

import "testing"

// While a card is loaded or brought back, nobody else loads it or brings it back.
func TestOneAtATime(t *testing.T) {
	card, clinic := t.TempDir(), otherClinic(t)
	tries := 0
	t.Cleanup(func() { operation = func(string) {} })
	operation = func(what string) {
		_, loaded := Load(card, otherClinic(t), sample("K-311"))
		_, back := Back(card, clinic, anyLoan)
		for _, err := range []error{loaded, back} {
			refused(t, what, err, "another program is at work on the card in "+card)
		}
		tries++
	}
	if record := load(t, card, "K-204"); record.Patient != "K-204" || tries < leastOperations/2 {
		t.Errorf("%+v, %d tries", record, tries)
	}
	loading := tries
	if r := back(t, card, clinic); r.Record.Patient != "K-204" || tries < loading+leastOperations/2 {
		t.Errorf("%+v, %d tries", r, tries)
	}
}
