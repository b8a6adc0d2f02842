package sounds

import (
	"testing"
	"time"

	"github.com/gopxl/beep/v2"
)

// fakeOutput is heard Late after it is played.
type fakeOutput struct {
	Late   time.Duration
	Began  time.Time
	Played beep.StreamSeeker
	Hushed int
}

func (o *fakeOutput) Play(s beep.StreamSeeker) { o.Played = s }
func (o *fakeOutput) Hush()                    { o.Hushed++ }
func (o *fakeOutput) Heard(frame int) time.Time {
	return o.Began.Add(o.Late + SampleRate.D(frame))
}

func TestLive(t *testing.T) {
	line := timeline(t, ordinary())
	o := &fakeOutput{Late: 70 * time.Millisecond, Began: time.Now()}
	live := NewLive(o, with(35), 0)
	live.Play(line)
	live.Hush()
	if o.Hushed != 1 {
		t.Errorf("hushed %d times", o.Hushed)
	}

	want := New(line, with(35))
	if o.Played.Len() != want.Len() {
		t.Fatalf("%d frames played, want %d", o.Played.Len(), want.Len())
	}
	played, expected := make([][2]float64, want.Len()), make([][2]float64, want.Len())
	o.Played.Stream(played)
	want.Stream(expected)
	for n := range expected {
		if played[n] != expected[n] {
			t.Fatalf("frame %d is %v, want %v", n, played[n], expected[n])
		}
	}

	for _, step := range line.Steps {
		heard := live.Heard(step.Onset()).Sub(o.Began) - o.Late
		if off := heard - step.Onset(); off.Abs() > SampleRate.D(1)/2+time.Nanosecond {
			t.Errorf("the step at %v is heard %v off", step.Onset(), off)
		}
	}
}
