//go:build real

package sounds

import (
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/gopxl/beep/v2"
	"github.com/gopxl/beep/v2/wav"

	"glidepace/pacer"
	"glidepace/sessions"
)

// An independent tool hears every tick where it belongs while tones sound,
// and nothing else in a set but the tone of its first inhale, at rest.
func TestAubioFindsTheTicks(t *testing.T) {
	uneven := ordinary()
	uneven.Breath.Rate = 4.7 // so that steps begin anywhere in aubio's blocks
	for _, s := range []*sessions.Session{ordinary(), uneven, flowing()} {
		for _, volume := range []int{20, defaultVolume, 100} {
			t.Run(fmt.Sprintf("%v at %v, volume %d", s.Breath.Match, s.Breath.Rate, volume), func(t *testing.T) {
				line := timeline(t, s)
				heard := onsets(t, New(line, with(volume)))
				var want []float64
				for _, step := range line.Steps {
					switch step.Move {
					case pacer.Glide:
						want = append(want, step.Start)
					case pacer.Return:
						want = append(want, step.Start, step.Start+0.09)
					}
				}
				worst := 0.0
				for _, at := range want {
					nearest := 0
					for k, h := range heard {
						if math.Abs(h-at) < math.Abs(heard[nearest]-at) {
							nearest = k
						}
					}
					off := math.Abs(heard[nearest] - at)
					if off > 0.003 {
						t.Fatalf("a tick at %.4f s: the nearest onset is at %.4f s", at, heard[nearest])
					}
					worst = max(worst, off)
					heard = slices.Delete(heard, nearest, nearest+1)
				}
				t.Logf("ticks up to %.2f ms off; other onsets at %.3f s", worst*1e3, heard)
				for _, at := range heard {
					i := line.At(pacer.Seconds(at))
					if i < len(line.Steps) && line.Steps[i].InSet() && line.Steps[i].Move != pacer.Rest {
						t.Errorf("an onset at %.3f s, %v", at, line.Steps[i].Move)
					}
				}
			})
		}
	}
}

// onsets returns what aubioonset finds in s, in seconds.
func onsets(t *testing.T, s *Stream) (found []float64) {
	t.Helper()
	name := filepath.Join(t.TempDir(), "session.wav")
	f, err := os.Create(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if err := wav.Encode(f, s, beep.Format{SampleRate: SampleRate, NumChannels: 1, Precision: 2}); err != nil {
		t.Fatal(err)
	}
	text, err := exec.Command("aubioonset", "-B", "512", "-H", "64", "-M", "0.06", "-i", name).Output()
	if err != nil {
		t.Fatalf("aubioonset, of Debian's aubio-tools: %v", err)
	}
	for word := range strings.FieldsSeq(string(text)) {
		at, err := strconv.ParseFloat(word, 64)
		if err != nil {
			t.Fatal(err)
		}
		found = append(found, at)
	}
	if len(found) == 0 {
		t.Fatal("aubioonset found nothing")
	}
	return found
}
