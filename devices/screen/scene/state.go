package scene

import (
	"math"
	"time"

	"glidepace/pacer"
	"glidepace/sessions"
)

// Status is what the session is doing.
type Status uint8

const (
	Waiting Status = iota // for the first step
	Running
	Paused
	Stopped // for symptoms
	Asked   // whether they are still there
	Ended
)

// State is what a screen knows of a session. What it shows depends only on the step,
// the moment at which it began, and now.
type State struct {
	Steering Steering
	Calm     bool // little is to move: a movement is shown by its two ends alone
	Status   Status
	Timeline *pacer.Timeline
	Step     int
	At       time.Time // when the step began
	Stop     time.Time // when it was stopped for symptoms
	Heard    time.Time // from when on the conductor hears all commands
	Now      time.Time
	Outcome  sessions.Outcome // once ended
	Answer   pacer.Answer     // to the last stop
	Note     string
}

// Follow takes in what happened. It reports whether the screen changes.
func (s *State) Follow(e pacer.Event) bool {
	switch e.Kind {
	case pacer.Began:
		if s.Heard.IsZero() {
			s.Heard = e.At.Add(pacer.DeafAtStart)
		}
		return false
	case pacer.Answered:
		s.Answer = e.Answer
		if e.Answer == pacer.Settled {
			s.Heard = e.At.Add(pacer.DeafWhenGoingOn)
		}
		return false
	case pacer.Stepped:
		s.Status, s.Timeline, s.Step, s.At = Running, e.Timeline, e.Step, e.At
	case pacer.Paused:
		s.Status = Paused
	case pacer.Stopped:
		s.Status, s.Stop, s.Heard = Stopped, e.At, e.At.Add(pacer.DeafAfterStop)
	case pacer.StillThere:
		s.Status = Asked
	case pacer.Ended:
		s.Status, s.Outcome = Ended, e.Outcome
	default:
		return false
	}
	s.Now = e.At
	return true
}

// Frame is the time between two frames while the limb moves.
const Frame = 50 * time.Millisecond

// Next returns how long from now the picture stays the same: a frame while the limb
// is seen to move, otherwise until the seconds on the screen change; 0 if only what happens
// changes it.
func (s *State) Next() time.Duration {
	d := Frame
	switch s.Status {
	case Running:
		if move := s.Timeline.Steps[s.Step].Move; s.Calm || move != pacer.Glide && move != pacer.Return {
			left := s.secondsLeft()
			if left <= 0 {
				return 0
			}
			d = pacer.Seconds(left-math.Ceil(left)+1) + time.Millisecond
		}
	case Stopped, Asked:
		d = time.Second - s.sinceStop()%time.Second + time.Millisecond
	case Paused:
		if !s.Deaf() {
			return 0
		}
		d = s.Heard.Sub(s.Now)
	default:
		return 0
	}
	if s.Deaf() {
		d = min(d, s.Heard.Sub(s.Now))
	}
	return d
}

// InSet reports whether a set is under way.
func (s *State) InSet() bool { return s.Timeline != nil && s.Timeline.Steps[s.Step].InSet() }

// StandsForSymptoms reports whether the session stands still for symptoms.
func (s *State) StandsForSymptoms() bool { return s.Status == Stopped || s.Status == Asked }

// sinceStop returns how long ago the session was stopped for symptoms.
func (s *State) sinceStop() time.Duration { return max(s.Now.Sub(s.Stop), 0) }

// Deaf reports whether only the keys that end the session are heard yet.
func (s *State) Deaf() bool {
	return s.Status == Waiting || s.Status != Ended && s.Now.Before(s.Heard)
}

// Neck reports whether the key for a warning sign of the neck glide means
// something: during such a glide, and after any stop in a session that has one.
func (s *State) Neck() bool {
	if s.Timeline == nil || s.StandsForSymptoms() {
		return s.Timeline != nil && s.Timeline.Neck()
	}
	e := s.Timeline.ExerciseOf(s.Timeline.Steps[s.Step])
	return e != nil && e.Glide.Neck
}

// elapsed returns the seconds since the step began.
func (s *State) elapsed() float64 {
	return min(max(s.Now.Sub(s.At).Seconds(), 0), s.Timeline.Steps[s.Step].Duration)
}

// secondsLeft returns the seconds until the step ends.
func (s *State) secondsLeft() float64 {
	return s.Timeline.Steps[s.Step].Duration - s.elapsed()
}

// sessionLeft returns the seconds until the session ends, if nothing stops it.
func (s *State) sessionLeft() float64 {
	return s.Timeline.Duration - s.Timeline.Steps[s.Step].Start - s.elapsed()
}

// position returns where the movement is shown now.
func (s *State) position() float64 {
	elapsed := s.elapsed()
	if move := s.Timeline.Steps[s.Step].Move; s.Calm && (move == pacer.Glide || move == pacer.Return) {
		elapsed = s.Timeline.Steps[s.Step].Duration // where it goes
	}
	return Position(s.Timeline, s.Step, elapsed)
}

// Position returns where the movement is, elapsed seconds after the start of
// step i: 0 at the start position, 1 at the end of the glide. It speeds up and
// slows down as a limb does, and depends on nothing but the time.
func Position(t *pacer.Timeline, i int, elapsed float64) float64 {
	s := t.Steps[i]
	done := min(max(elapsed/s.Duration, 0), 1)
	eased := (1 - math.Cos(math.Pi*done)) / 2
	switch s.Move {
	case pacer.Glide:
		return eased
	case pacer.Return:
		return 1 - eased
	case pacer.MovePause:
		if i > 0 && t.Steps[i-1].Move == pacer.Glide {
			return 1
		}
	}
	return 0
}

// smaller is the part of that path that is drawn when the patient goes on gentler:
// enough to see the difference, and no measure of how far to go.
const smaller = 0.7
