package pacer

// Remark is what is said or shown with a repetition, besides its movements.
type Remark uint8

const (
	NoRemark    Remark = iota
	OneMore            // repetition is left in the set
	HalfDone           // of the repetitions
	ShoulderLow        // a reminder
	BreathFlows        // a reminder
)

const (
	remindAt = 3 // a reminder goes with every third repetition
	longSet  = 6 // repetitions from which on it is told that half are done
)

// Remark returns the remark of the repetition that s belongs to, so that screen and
// voice agree. The reminders take turns. The last repetition has none, since there
// is nothing left to keep it in mind for.
func (t *Timeline) Remark(s Step) Remark {
	switch reps := t.RepsInSet(s); {
	case s.Rep == 0 || s.Rep == reps:
	case s.Rep == reps-1:
		return OneMore
	case s.Rep%(2*remindAt) == remindAt:
		return ShoulderLow
	case s.Rep%remindAt == 0:
		return BreathFlows
	case reps >= longSet && 2*s.Rep == reps:
		return HalfDone
	}
	return NoRemark
}
