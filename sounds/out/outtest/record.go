//go:build real

package outtest

import (
	"encoding/binary"
	"errors"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/gopxl/beep/v2"
	"github.com/gopxl/beep/v2/wav"

	"glidepace/pacer"
)

// Recording is what a server plays, one channel of it at pacer.SampleRate. It
// grows until Stop, or until the server or the test ends.
type Recording struct {
	cmd  *exec.Cmd
	done chan struct{} // closed when nothing more comes

	mu      sync.Mutex
	samples []int16
	starts  []time.Time // when the first sample was heard, as each piece has it
}

// settling is how long a recorder may take until its samples come evenly.
const settling = 500 * time.Millisecond

// Record begins to record and returns when the samples come evenly.
func (s *Server) Record(t testing.TB) *Recording {
	t.Helper()
	r := &Recording{done: make(chan struct{})}
	r.cmd = s.Command("parec", "-d", "test.monitor", "--format=s16le",
		"--rate="+strconv.Itoa(pacer.SampleRate), "--channels=1", "--latency-msec=5")
	r.cmd.Stderr = s.log
	pipe, err := r.cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := r.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	go r.read(pipe)
	t.Cleanup(r.Stop)
	if s.fresh {
		s.wakeSink(t)
		s.fresh = false
	}
	await(t, "a recording", func() error {
		if len(r.Samples()) == 0 {
			return io.ErrNoProgress
		}
		return nil
	})
	time.Sleep(settling)
	r.mu.Lock()
	defer r.mu.Unlock()
	r.samples, r.starts = nil, nil
	return r
}

func (r *Recording) read(pipe io.Reader) {
	defer close(r.done)
	buf := make([]byte, 1<<16)
	have := 0
	for {
		n, err := pipe.Read(buf[have:])
		now := time.Now()
		if err != nil {
			return
		}
		have += n
		whole := have &^ 1
		r.mu.Lock()
		r.starts = append(r.starts, now.Add(-duration(len(r.samples))))
		for i := 0; i < whole; i += 2 {
			r.samples = append(r.samples, int16(binary.LittleEndian.Uint16(buf[i:])))
		}
		r.mu.Unlock()
		have = copy(buf, buf[whole:have])
	}
}

// Stop ends the recording.
func (r *Recording) Stop() {
	r.cmd.Process.Kill()
	<-r.done
	r.cmd.Wait()
}

// Samples returns what has been recorded so far.
func (r *Recording) Samples() []int16 {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.samples[:len(r.samples):len(r.samples)]
}

// Time returns when sample i was heard; see the package's doc.
func (r *Recording) Time(i int) time.Time {
	r.mu.Lock()
	defer r.mu.Unlock()
	starts := slices.SortedFunc(slices.Values(r.starts), time.Time.Compare)
	return starts[len(starts)/10].Add(duration(i))
}

// loud is the least sample that counts as sound, 1/300 of full scale.
const loud = 100

// Starts returns when sound began after at least quiet without any.
func (r *Recording) Starts(quiet time.Duration) []time.Time {
	var ts []time.Time
	gap := int(quiet * pacer.SampleRate / time.Second)
	last := -gap
	for i, x := range r.Samples() {
		if x > -loud && x < loud {
			continue
		}
		if i-last >= gap {
			ts = append(ts, r.Time(i))
		}
		last = i
	}
	return ts
}

// LastSound returns when sound was last heard, the zero time if there was none.
func (r *Recording) LastSound() time.Time {
	for i, x := range slices.Backward(r.Samples()) {
		if x <= -loud || x >= loud {
			return r.Time(i)
		}
	}
	return time.Time{}
}

// Onsets returns when sounds began, as aubioonset finds them. It finds a sound
// that follows another without silence, too, but is 1 or 2 ms late, depending on
// the sound.
func (r *Recording) Onsets(t testing.TB) []time.Time {
	t.Helper()
	var ts []time.Time
	began := r.Time(0)
	for _, s := range OnsetSeconds(t, r.WAV(t)) {
		ts = append(ts, began.Add(time.Duration(s*float64(time.Second))))
	}
	return ts
}

// OnsetSeconds returns where in a WAV file sounds begin, as aubioonset finds
// them.
func OnsetSeconds(t testing.TB, file string) []float64 {
	t.Helper()
	out, err := exec.Command("aubioonset", "-B", "512", "-H", "64", "-M", "0.06", "-i", file).Output()
	if err != nil {
		t.Fatalf("aubioonset: %v", err)
	}
	var ss []float64
	for _, line := range strings.Fields(string(out)) {
		s, err := strconv.ParseFloat(line, 64)
		if err != nil {
			t.Fatalf("aubioonset says %q", line)
		}
		ss = append(ss, s)
	}
	return ss
}

// WAV writes the recording so far to a temporary file and returns its path.
func (r *Recording) WAV(t testing.TB) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "heard.wav")
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	samples := r.Samples()
	stream := beep.StreamerFunc(func(frames [][2]float64) (int, bool) {
		n := min(len(frames), len(samples))
		for i, x := range samples[:n] {
			frames[i] = [2]float64{float64(x) / math.MaxInt16, float64(x) / math.MaxInt16}
		}
		samples = samples[n:]
		return n, n > 0
	})
	format := beep.Format{SampleRate: pacer.SampleRate, NumChannels: 1, Precision: 2}
	if err := errors.Join(wav.Encode(f, stream, format), f.Close()); err != nil {
		t.Fatal(err)
	}
	return path
}

func duration(samples int) time.Duration {
	return time.Duration(samples) * time.Second / pacer.SampleRate
}
