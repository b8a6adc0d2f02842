package sounds_test

import (
	"fmt"
	"time"

	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sounds"
)

// One repetition, as a stream that any player of beep takes.
func ExampleNew() {
	line, err := pacer.New(&sessions.Session{
		Posture:   sessions.PostureNone,
		Title:     "One repetition",
		Breath:    sessions.Breath{Inhale: 3 * time.Second, Exhale: 4 * time.Second, Pause: 500 * time.Millisecond},
		Exercises: []sessions.Exercise{{Side: sessions.Left, Sets: 1, Reps: 1}},
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	stream := sounds.New(line, sounds.Settings{Parts: sessions.DefaultSounds.Parts, Volume: sessions.DefaultSounds.Volume})
	fmt.Println("steps", line.Duration, "s, sound", sounds.SampleRate.D(stream.Len()))

	var first [1][2]float64
	if err := stream.Seek(pacer.Frame(line.Steps[1].Start, int(sounds.SampleRate))); err != nil {
		fmt.Println(err)
		return
	}
	stream.Stream(first[:])
	fmt.Printf("the glide begins at %v with the tick: %.4f\n", line.Steps[1].Onset(), first[0][0])
	// Output:
	// steps 10.5 s, sound 14.5s
	// the glide begins at 3s with the tick: 0.0193
}
