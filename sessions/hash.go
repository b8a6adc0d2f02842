package sessions

import (
	"crypto/sha256"
	"fmt"
	"time"
)

// oldSetUp is hashed for a file without a set-up. It once was the set-up of every such
// file, and it stays so that old diaries recognise their prescriptions.
const oldSetUp = 15 * time.Second

// Hash identifies what was prescribed, so that a diary can tell whether two sessions
// followed the same prescription. It is "v1-" and 32 hexadecimal digits.
//
// Breath, lead-in, exercises with their own glides, and the rules of easing and
// progress go into it; title, patient, dose, posture, notes, sounds, pictures and the
// texts of the library do not. It is made from values with their defaults, so that
// layout, units and ratios such as 1:1.5 and 2:3 make no difference. Rate with ratio and
// inhale with exhale are two prescriptions even where they last the same, since they do
// not for a glide that pauses at both ends.
//
// A new key of the format is hashed only where a file uses it, so that the hash of every
// older file stays.
func (s *Session) Hash() string {
	h := sha256.New()
	b := s.Breath
	fmt.Fprintf(h, "breath %s pause %d lead-in %d\n", b.Match, b.Pause, s.LeadIn)
	if b.Rate == 0 {
		fmt.Fprintf(h, "inhale %d exhale %d\n", b.Inhale, b.Exhale)
	} else {
		// Nine digits: 0.1:0.2 and 1:2 differ in the last bit.
		fmt.Fprintf(h, "rate %g inhales %.9g\n", b.Rate, b.Ratio.Inhale/(b.Ratio.Inhale+b.Ratio.Exhale))
	}
	if b.Taper != nil {
		fmt.Fprintf(h, "taper %g %d\n", b.Taper.From, b.Taper.Breaths)
	}
	for _, e := range s.Exercises {
		if e.SetUp < 0 {
			e.SetUp = oldSetUp
		}
		fmt.Fprintf(h, "exercise %s %d x %d rest %d set-up %d both ends %t glide %q\n",
			e.Side, e.Sets, e.Reps, e.Rest, e.SetUp, e.BothEnds, e.Glide.Name)
		if e.Range != RangeFull {
			fmt.Fprintf(h, "range %s\n", e.Range)
		}
		if e.Own {
			fmt.Fprintf(h, "own %q %q %q\n", e.Glide.Start, e.Glide.Out, e.Glide.Back)
			if e.Glide.Neck {
				fmt.Fprintf(h, "neck\n")
			}
		}
	}
	if s.Ease != DefaultEase {
		e := s.Ease
		fmt.Fprintf(h, "ease slower %g floor %g fewer %d tries %d settle %d\n", e.Slower, e.Floor, e.FewerReps, e.Tries, e.SettleWithin)
	}
	if s.Progress != nil {
		fmt.Fprintf(h, "progress from %d add %d after %d\n", s.Progress.RepsFrom, s.Progress.Add, s.Progress.After)
		if s.Progress.Days != DefaultDays {
			fmt.Fprintf(h, "days %d\n", s.Progress.Days)
		}
	}
	return fmt.Sprintf("v1-%x", h.Sum(nil)[:16])
}
