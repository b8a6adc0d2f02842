package sounds

import (
	"math"
	"testing"
	"time"

	"github.com/gopxl/beep/v2"

	"glidepace/pacer"
	"glidepace/sounds/voice"
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

// After a stop it is silent for a second; then the voice says what to do, as loud as
// everything else.
func TestWordsAfterAStop(t *testing.T) {
	language, err := voice.FindLanguage("en")
	if err != nil {
		t.Fatal(err)
	}
	settings := with(35)
	settings.Parts.Voice = true
	settings.Voice = voice.New(language, map[string]voice.Clip{"sit-down": {300, -30000, 3000}})
	o := &fakeOutput{}
	live := NewLive(o, settings, 50*time.Millisecond)
	light := pacer.Event{Kind: pacer.Answered, Answer: pacer.Breathing}
	took := live.Say(light)
	if want := time.Second + SampleRate.D(3); took != want {
		t.Errorf("takes %v, want %v", took, want)
	}
	heard := make([][2]float64, 48003)
	if n, _ := o.Played.Stream(heard); n != len(heard) || o.Played.Position() != o.Played.Len() {
		t.Fatalf("%d frames of %d", n, o.Played.Len())
	}
	for n, f := range heard {
		want := 0.0
		if n >= 48000 {
			want = []float64{300, -30000, 3000}[n-48000] / 32767 * Gain(35)
		}
		if math.Abs(f[0]-want) > 1e-12 || f[1] != f[0] {
			t.Fatalf("frame %d is %v, want %v", n, f, want)
		}
	}

	settings.Parts.Voice = false
	for name, nothing := range map[string]func() time.Duration{
		"no clip":  func() time.Duration { return live.Say(pacer.Event{Kind: pacer.StillThere}) },
		"left":     func() time.Duration { return live.Say(pacer.Event{Kind: pacer.Answered, Answer: pacer.Left}) },
		"no voice": func() time.Duration { return NewLive(o, settings, 0).Say(light) },
	} {
		o.Played, o.Hushed = nil, 0
		if took := nothing(); took != 0 || o.Played != nil || o.Hushed != 1 {
			t.Errorf("%s: %v, hushed %d times", name, took, o.Hushed)
		}
	}
}
