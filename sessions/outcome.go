package sessions

import (
	"fmt"
	"strings"
)

// Outcome says how a session ended; "" while it runs. Diaries keep these words, and those
// below.
type Outcome string

const (
	Completed   Outcome = "completed"   // every set was done, or the patient said "enough"
	EndedEarly  Outcome = "ended-early" // the patient ended it
	Symptoms    Outcome = "symptoms"    // symptoms ended it
	Interrupted Outcome = "interrupted" // it was cut off, and nobody said why
)

// Symptom is what was felt at a stop; "" for nothing.
type Symptom string

const (
	NoSymptom   Symptom = ""
	NotSaid     Symptom = "not said" // nobody said what it was
	Tingling    Symptom = "tingling" // or numbness
	Pain        Symptom = "pain"
	Breathing   Symptom = "breathing"    // light-headed, short of breath or tingling around the mouth
	WarningSign Symptom = "warning sign" // of the neck glide: dizzy, unsteady, faint; sight, speech, swallowing, a numb face
)

// Ratings say how strong tingling and pain are, 0 to 10; nil where not rated.
type Ratings struct {
	Tingling *int `json:"tingling,omitempty"`
	Pain     *int `json:"pain,omitempty"`
}

// IsZero reports whether nothing was rated.
func (r Ratings) IsZero() bool { return r.Tingling == nil && r.Pain == nil }

// Whole reports whether everything was rated.
func (r Ratings) Whole() bool { return r.Tingling != nil && r.Pain != nil }

// String writes tingling and pain as "2/0", with a dash for what was not rated; "" where
// nothing was.
func (r Ratings) String() string {
	if r.IsZero() {
		return ""
	}
	text := func(n *int) string {
		if n == nil {
			return "-"
		}
		return fmt.Sprint(*n)
	}
	return text(r.Tingling) + "/" + text(r.Pain)
}

// InWords names what was rated: "tingling 2, pain 0".
func (r Ratings) InWords() string {
	var list []string
	if r.Tingling != nil {
		list = append(list, fmt.Sprintf("tingling %d", *r.Tingling))
	}
	if r.Pain != nil {
		list = append(list, fmt.Sprintf("pain %d", *r.Pain))
	}
	return strings.Join(list, ", ")
}

// BeforeAndAfter writes ratings such as "2/0 → 3/0"; "" where nothing was rated.
func BeforeAndAfter(before, after Ratings) string {
	if before.IsZero() && after.IsZero() {
		return ""
	}
	return strings.TrimSpace(before.String() + " → " + after.String())
}

// Felt compares the symptoms after a session with those before, where that is asked
// instead of ratings; "" without an answer.
type Felt string

const (
	NoStronger Felt = "no stronger"
	Stronger   Felt = "stronger"
)

// NextMorning says whether symptoms were worse until the next morning; "" where nobody
// said.
type NextMorning string

const (
	Worse    NextMorning = "worse"
	NotWorse NextMorning = "not worse"
)
