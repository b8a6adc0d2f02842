package out

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"
)

// A device plays frame 0 at start and runs fast by ppm millionths.
type device struct {
	start time.Time
	ppm   float64
	step  float64 // frames by which its position moves; 0: smoothly
}

func (d device) rate() float64 { return 48000 * (1 + d.ppm/1e6) }

// heard is when a frame is really heard.
func (d device) heard(frame float64) time.Time {
	return d.start.Add(time.Duration(frame / d.rate() * 1e9))
}

// position is what the device gives as its position at t.
func (d device) position(t time.Time) float64 {
	p := t.Sub(d.start).Seconds() * d.rate()
	if d.step > 0 {
		p = math.Floor(p/d.step) * d.step
	}
	return p
}

// off is how far the fit is from the truth about a frame, in milliseconds.
func (d device) off(f *fit, frame float64) float64 {
	return f.line().heard(frame).Sub(d.heard(frame)).Seconds() * 1000
}

// ask puts a question every 150 to 200 ms from second from to second to, and
// takes in an answer that comes late seconds after it held. each, if not nil,
// runs after every answer, with the second.
func (d device) ask(f *fit, r *rand.Rand, from, to float64, late func() float64, each func(s float64)) {
	for s := from; s < to; s += 0.15 + 0.05*r.Float64() {
		t := d.start.Add(time.Duration(s * 1e9))
		f.add(d.position(t), t.Add(time.Duration(late()*1e9)))
		if each != nil {
			each(s)
		}
	}
}

func random() *rand.Rand { return rand.New(rand.NewPCG(1, 2)) }

// The crystal of a card may be 50 ppm off: 45 ms in a quarter of an hour.
func TestFitCrystal(t *testing.T) {
	for _, ppm := range []float64{50, -50, 0} {
		d := device{start: time.Now(), ppm: ppm}
		r := random()
		jitter := func() float64 { return 0.0003 * r.ExpFloat64() } // on the way back
		var f fit
		d.ask(&f, r, 0.001, 900, jitter, func(s float64) {
			now, ahead := d.off(&f, s*48000), d.off(&f, (s+10)*48000)
			if math.Abs(now) > 1.5 || s > 60 && (math.Abs(now) > 0.2 || math.Abs(ahead) > 0.3) {
				t.Fatalf("%v ppm, after %.1f s: %.2f ms off, %.2f ms about 10 s ahead", ppm, s, now, ahead)
			}
		})
		if got := (1/(f.line().perFrame*48000) - 1) * 1e6; math.Abs(got-ppm) > 3 {
			t.Errorf("%v ppm found as %.1f", ppm, got)
		}
	}
}

// PipeWire moves in steps of 1,024 frames, 21 ms.
func TestFitSteps(t *testing.T) {
	d := device{start: time.Now(), ppm: 30, step: 1024}
	r := random()
	jitter := func() float64 { return 0.0003 * r.ExpFloat64() }
	var f fit
	for i := range 20 { // the quick questions
		at := d.start.Add(time.Duration(3+10*i) * time.Millisecond)
		f.add(d.position(at), at)
	}
	if off := d.off(&f, 9600); math.Abs(off) > 4 {
		t.Errorf("after the quick questions it is %.2f ms off", off)
	}
	d.ask(&f, r, 0.2, 300, jitter, func(s float64) {
		if off := d.off(&f, s*48000); math.Abs(off) > 4 || s > 30 && math.Abs(off) > 1 {
			t.Fatalf("after %.1f s it is %.2f ms off", s, off)
		}
	})
}

// A busy machine makes many answers late, some very.
func TestFitLoad(t *testing.T) {
	d := device{start: time.Now(), ppm: -20}
	r := random()
	load := func() float64 {
		if r.IntN(3) > 0 {
			return 0.3 * r.Float64()
		}
		return 0.002 * r.Float64()
	}
	var f fit
	d.ask(&f, r, 0, 120, load, func(s float64) {
		if off := d.off(&f, s*48000); s > 10 && math.Abs(off) > 1.5 {
			t.Fatalf("after %.1f s it is %.2f ms off", s, off)
		}
	})
}

// A device that stood still for a while, without a word, is followed within
// four seconds; and one early answer does no lasting harm.
func TestFitJump(t *testing.T) {
	for _, step := range []float64{0, 1024} {
		d := device{start: time.Now(), step: step}
		r := random()
		jitter := func() float64 { return 0.0003 * r.ExpFloat64() }
		var f fit
		d.ask(&f, r, 0, 20, jitter, nil)
		d.start = d.start.Add(40 * time.Millisecond)
		d.ask(&f, r, 20.2, 24.5, jitter, nil)
		if off := d.off(&f, 24*48000); math.Abs(off) > 4 {
			t.Errorf("steps of %v: 4 s after the device stood still it is %.2f ms off", step, off)
		}
		d.ask(&f, r, 24.5, 40, jitter, nil)
		f.add(d.position(d.start.Add(40*time.Second)), d.start.Add(39950*time.Millisecond))
		d.ask(&f, r, 40.2, 45, jitter, nil)
		if off := d.off(&f, 45*48000); math.Abs(off) > 4 {
			t.Errorf("steps of %v: 5 s after an early answer it is %.2f ms off", step, off)
		}
	}
}

// A new start keeps what is known of the crystal.
func TestFitRestart(t *testing.T) {
	d := device{start: time.Now(), ppm: 100}
	r := random()
	none := func() float64 { return 0 }
	var f fit
	d.ask(&f, r, 0, 60, none, nil)
	f.restart()
	d.start = d.start.Add(90 * time.Second)
	f.add(0, d.start)
	if off := d.off(&f, 100*48000); math.Abs(off) > 1 {
		t.Errorf("from one answer it is %.2f ms off about 100 s ahead", off)
	}
}

func TestLine(t *testing.T) {
	at := time.Now()
	l := nominal(at, 480)
	if got := l.heard(48480).Sub(at); got != time.Second {
		t.Errorf("a second of frames takes %v", got)
	}
	if got := l.heardAt(at.Add(-10 * time.Millisecond)); math.Abs(got) > 1e-6 {
		t.Errorf("frame %v is heard 10 ms before frame 480", got)
	}
	if got := l.shifted(-80).heard(400); !got.Equal(at) {
		t.Errorf("frame 480 named 400 is heard %v late", got.Sub(at))
	}
}
