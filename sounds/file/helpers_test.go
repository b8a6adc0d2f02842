package file

import (
	"bytes"
	"encoding/binary"
	"math"
	"os"
	"slices"
	"testing"
	"time"

	"github.com/mewkiz/flac"
	"github.com/mewkiz/flac/meta"

	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sounds"
)

// mixed is a source of so many frames that has everything an encoder meets:
// silence, one constant value, tones, noise, and full scale up and down.
type mixed int

func (m mixed) Len() int { return int(m) }

func (m mixed) Fill(dst []int16, at int) {
	for i := range dst {
		dst[i] = m.sample(at + i)
	}
}

func (m mixed) sample(n int) int16 {
	noise := uint64(n) * 0x9E3779B97F4A7C15
	noise ^= noise >> 29
	switch n / 5000 % 6 {
	case 0:
		return int16(8000*math.Sin(2*math.Pi*440*float64(n)/pacer.SampleRate) + 3000*math.Sin(2*math.Pi*1319*float64(n)/pacer.SampleRate))
	case 1:
		return 0
	case 2:
		return int16(noise) // full scale
	case 3:
		return -1234
	case 4:
		return int16(noise) >> 12
	default:
		if n%7 < 3 {
			return math.MaxInt16
		}
		return math.MinInt16
	}
}

// silence is a source of so many frames.
type silence int

func (s silence) Len() int              { return int(s) }
func (silence) Fill(dst []int16, _ int) { clear(dst) }

// list is a source of given samples.
type list []int16

func (l list) Len() int                 { return len(l) }
func (l list) Fill(dst []int16, at int) { copy(dst, l[at:]) }

// samples returns all samples of a source as bytes, low byte first.
func samples(s Source) []byte {
	all := make([]int16, s.Len())
	s.Fill(all, 0)
	var b bytes.Buffer
	binary.Write(&b, binary.LittleEndian, all)
	return b.Bytes()
}

// session returns the sound of a session of ten minutes at default volume:
// tones and ticks.
func session(t testing.TB) *sounds.Stream {
	t.Helper()
	line, err := pacer.New(&sessions.Session{
		Posture: sessions.PostureNone,
		Title:   "Ten minutes",
		Breath:  sessions.Breath{Rate: 6, Ratio: sessions.Ratio{Inhale: 1, Exhale: 1.5}, Pause: 500 * time.Millisecond},
		LeadIn:  2,
		Exercises: []sessions.Exercise{{
			Side: sessions.Right, Sets: 5, Reps: 10, Rest: 15 * time.Second, SetUp: 9 * time.Second,
		}},
	})
	if err != nil {
		t.Fatal(err)
	}
	s := sounds.New(line, sounds.Settings{Parts: sessions.Parts{Tones: true, Ticks: true}, Volume: sessions.DefaultSounds.Volume})
	if l := time.Duration(s.Len()) * time.Second / pacer.SampleRate; l < 600*time.Second || l > 620*time.Second {
		t.Fatalf("the session lasts %v", l)
	}
	return s
}

// vorbisTitle returns the title in a stream's metadata, "" where there is none.
func vorbisTitle(s *flac.Stream) string {
	for _, b := range s.Blocks {
		if c, ok := b.Body.(*meta.VorbisComment); ok {
			for _, tag := range c.Tags {
				if tag[0] == "TITLE" {
					return tag[1]
				}
			}
		}
	}
	return ""
}

func read(t testing.TB, name string) []byte {
	t.Helper()
	b, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// wantFolder fails unless the folder holds just these names.
func wantFolder(t *testing.T, dir string, names ...string) {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var found []string
	for _, e := range entries {
		found = append(found, e.Name())
	}
	if !slices.Equal(found, names) {
		t.Errorf("the folder holds %q, want %q", found, names)
	}
}
