package out

import (
	"slices"
	"time"

	"glidepace/sounds"
)

// A line says when frames are heard: frame at time at, and every further frame
// perFrame seconds later.
type line struct {
	at       time.Time
	frame    float64
	perFrame float64
}

// nominal is the line of a device whose crystal is exact.
func nominal(at time.Time, frame float64) line {
	return line{at, frame, 1 / float64(sounds.SampleRate)}
}

// heard returns when a frame is heard.
func (l line) heard(frame float64) time.Time {
	return l.at.Add(time.Duration((frame - l.frame) * l.perFrame * float64(time.Second)))
}

// heardAt returns which frame is heard at t.
func (l line) heardAt(t time.Time) float64 {
	return l.frame + t.Sub(l.at).Seconds()/l.perFrame
}

// shifted renames frame f of the line to f + n.
func (l line) shifted(n int) line {
	l.frame += float64(n)
	return l
}

// A fit finds the line of a device from the answers of a sound server that is
// asked for its position.
//
// An answer proves one thing: its frame was heard no later than the moment the
// answer came in. How much earlier depends on the way through the sockets, on
// the load of the machine and, where the server moves its position in steps
// (PipeWire: 1,024 frames, 21 ms, by default), on the age of the last step. All
// these make an answer late; none makes it early. So the line we want lies
// under all answers and touches the earliest: it is the lower edge of their
// convex hull, and the late answers do not move it.
//
// The slope is free, because crystals differ. But over a short time the slope
// of the edge is mostly noise, so it gets the weight T²/(T² + 10² s²) against
// the slope known before, where T is the time covered.
type fit struct {
	start    time.Time // of the points' times
	points   []point   // by rising frame, over the last fitWindow
	hull     []point
	perFrame float64 // slope known so far
}

type point struct {
	frame float64
	t     float64 // seconds since fit.start
}

const (
	fitWindow  = 60.0 // seconds
	slopeTrust = 10.0 // seconds after which the edge's slope and the one before weigh the same
	fitRecent  = 20   // answers that must agree that the line has moved
	minJump    = 1e-3 // seconds
)

// restart forgets the answers so far, because the device may have stood still.
// The slope belongs to the device and is kept, if the answers covered enough
// time to show it.
func (f *fit) restart() {
	if n := len(f.points); n > 0 && f.points[n-1].t-f.points[0].t > slopeTrust {
		f.perFrame = f.line().perFrame
	}
	f.points = f.points[:0]
}

// add takes in an answer: frame was heard at t or before.
func (f *fit) add(frame float64, t time.Time) {
	if f.start.IsZero() {
		f.start = t
	}
	p := point{frame, t.Sub(f.start).Seconds()}
	if n := len(f.points); n > 0 && frame <= f.points[n-1].frame {
		return // the same step again proves nothing new
	}
	old := 0
	for old < len(f.points) && f.points[old].t < p.t-fitWindow {
		old++
	}
	f.points = append(slices.Delete(f.points, 0, old), p)
	f.dropJump()
}

// dropJump forgets all but the last answers if these agree that the device is
// later than it was. That happens after a gap in its playing that nothing told
// of, or after a single answer that was early.
func (f *fit) dropJump() {
	n := len(f.points) - fitRecent
	if n < fitRecent {
		return
	}
	l := f.line()
	late := func(p point) float64 { return p.t - f.seconds(l, p.frame) }
	spread, least := 0.0, late(f.points[n])
	for _, p := range f.points[:n] {
		spread = max(spread, late(p))
	}
	for _, p := range f.points[n:] {
		least = min(least, late(p))
	}
	if least > max(minJump, spread/2) {
		f.points = slices.Delete(f.points, 0, n)
	}
}

// seconds is when l says that a frame is heard, on the scale of the points.
func (f *fit) seconds(l line, frame float64) float64 {
	return l.at.Sub(f.start).Seconds() + (frame-l.frame)*l.perFrame
}

// line returns the line under the answers. There must be at least one.
func (f *fit) line() line {
	if f.perFrame == 0 {
		f.perFrame = 1 / float64(sounds.SampleRate)
	}
	f.hull = f.hull[:0]
	mean := 0.0
	for _, p := range f.points {
		mean += p.frame / float64(len(f.points))
		for n := len(f.hull); n >= 2 && slope(f.hull[n-2], f.hull[n-1]) >= slope(f.hull[n-1], p); n-- {
			f.hull = f.hull[:n-1]
		}
		f.hull = append(f.hull, p)
	}
	b := f.perFrame
	for i := 1; i < len(f.hull); i++ {
		if f.hull[i].frame >= mean {
			span := f.hull[len(f.hull)-1].t - f.hull[0].t
			w := span * span / (span*span + slopeTrust*slopeTrust)
			b += w * (slope(f.hull[i-1], f.hull[i]) - b)
			break
		}
	}
	// Of all answers, the one that a rising line of that slope touches first.
	touch := slices.MinFunc(f.hull, func(p, q point) int {
		if p.t-q.t < (p.frame-q.frame)*b {
			return -1
		}
		return 1
	})
	return line{f.start.Add(time.Duration(touch.t * float64(time.Second))), touch.frame, b}
}

func slope(p, q point) float64 { return (q.t - p.t) / (q.frame - p.frame) }
