package screen

import (
	"math"
	"time"

	"glidepace/pacer"
	"glidepace/sessions"
)

// status is what the session is doing.
type status uint8

const (
	waiting status = iota // for the first step
	running
	paused
	stopped // for symptoms
	asked   // whether they are still there
	ended
)

// state is what a screen knows of a session. What it shows depends only on the step,
// the moment at which it began, and now.
type state struct {
	steering Steering
	status   status
	timeline *pacer.Timeline
	step     int
	at       time.Time // when the step began
	stop     time.Time // when it was stopped for symptoms
	heard    time.Time // from when on the conductor hears all commands
	now      time.Time
	outcome  sessions.Outcome // once ended
	note     string
}

// follow takes in what happened. It reports whether the screen changes.
func (s *state) follow(e pacer.Event) bool {
	switch e.Kind {
	case pacer.Began:
		if s.heard.IsZero() {
			s.heard = e.At.Add(pacer.DeafAtStart)
		}
		return false
	case pacer.Answered:
		if e.Answer == pacer.Settled {
			s.heard = e.At.Add(pacer.DeafWhenGoingOn)
		}
		return false
	case pacer.Stepped:
		s.status, s.timeline, s.step, s.at = running, e.Timeline, e.Step, e.At
	case pacer.Paused:
		s.status = paused
	case pacer.Stopped:
		s.status, s.stop, s.heard = stopped, e.At, e.At.Add(pacer.DeafAfterStop)
	case pacer.StillThere:
		s.status = asked
	case pacer.Ended:
		s.status, s.outcome = ended, e.Outcome
	default:
		return false
	}
	s.now = e.At
	return true
}

// frame is the time between two frames while the limb moves.
const frame = 50 * time.Millisecond

// next returns how long from now the picture stays the same: a frame while the limb
// moves, otherwise until the seconds on the screen change; 0 if only what happens
// changes it.
func (s *state) next() time.Duration {
	d := frame
	switch s.status {
	case running:
		if move := s.timeline.Steps[s.step].Move; move != pacer.Glide && move != pacer.Return {
			left := s.secondsLeft()
			if left <= 0 {
				return 0
			}
			d = pacer.Seconds(left-math.Ceil(left)+1) + time.Millisecond
		}
	case stopped, asked:
		d = time.Second - s.sinceStop()%time.Second + time.Millisecond
	case paused:
		if !s.deaf() {
			return 0
		}
		d = s.heard.Sub(s.now)
	default:
		return 0
	}
	if s.deaf() {
		d = min(d, s.heard.Sub(s.now))
	}
	return d
}

// inSet reports whether a set is under way.
func (s *state) inSet() bool { return s.timeline != nil && s.timeline.Steps[s.step].InSet() }

// standsForSymptoms reports whether the session stands still for symptoms.
func (s *state) standsForSymptoms() bool { return s.status == stopped || s.status == asked }

// sinceStop returns how long ago the session was stopped for symptoms.
func (s *state) sinceStop() time.Duration { return max(s.now.Sub(s.stop), 0) }

// deaf reports whether only the keys that end the session are heard yet.
func (s *state) deaf() bool {
	return s.status == waiting || s.status != ended && s.now.Before(s.heard)
}

// neck reports whether the key for a warning sign of the neck glide means
// something: during such a glide, and after any stop in a session that has one.
func (s *state) neck() bool {
	if s.timeline == nil || s.standsForSymptoms() {
		return s.timeline != nil && s.timeline.Neck()
	}
	e := s.timeline.ExerciseOf(s.timeline.Steps[s.step])
	return e != nil && e.Glide.Neck
}

// elapsed returns the seconds since the step began.
func (s *state) elapsed() float64 {
	return min(max(s.now.Sub(s.at).Seconds(), 0), s.timeline.Steps[s.step].Duration)
}

// secondsLeft returns the seconds until the step ends.
func (s *state) secondsLeft() float64 {
	return s.timeline.Steps[s.step].Duration - s.elapsed()
}

// sessionLeft returns the seconds until the session ends, if nothing stops it.
func (s *state) sessionLeft() float64 {
	return s.timeline.Duration - s.timeline.Steps[s.step].Start - s.elapsed()
}

// position returns where the movement is, elapsed seconds after the start of
// step i: 0 at the start position, 1 at the end of the glide. It speeds up and
// slows down as a limb does, and depends on nothing but the time.
func position(t *pacer.Timeline, i int, elapsed float64) float64 {
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

// pathOf is the part of the movement's path that is drawn.
var pathOf = map[sessions.Range]float64{sessions.RangeFull: 1, sessions.RangeMost: .75, sessions.RangeHalf: .5}

// smaller is the part of that path that is drawn when the patient goes on gentler:
// enough to see the difference, and no measure of how far to go.
const smaller = 0.7
