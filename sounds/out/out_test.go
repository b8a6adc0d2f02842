package out

import (
	"context"
	"errors"
	"io"
	"math"
	"net"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/gopxl/beep/v2"
)

func TestSilent(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		o, err := Open("off", nil)
		if err != nil || o.Name() != "off" {
			t.Fatalf("output %q, error %v", o.Name(), err)
		}
		if got := time.Until(o.Heard(48000)); got != time.Second {
			t.Errorf("before any Play the second second is in %v", got)
		}
		time.Sleep(5 * time.Second)
		o.Play(nil)
		o.Hush()
		time.Sleep(250 * time.Millisecond)
		if got := time.Until(o.Heard(12000)); got != 0 {
			t.Errorf("a quarter of a second after Play its frame is in %v", got)
		}
		if err := o.Close(); err != nil {
			t.Error(err)
		}
		if got := time.Until(o.Heard(96000)); got != 1750*time.Millisecond {
			t.Errorf("after Close frame 96000 is in %v", got)
		}
	})
}

func TestOpenNothing(t *testing.T) {
	t.Setenv("PULSE_SERVER", "unix:"+t.TempDir()+"/none")
	for way, want := range map[string]string{
		"pulse": "PulseAudio",
		"loud":  `"loud"`,
	} {
		o, err := Open(way, nil)
		if err == nil || !strings.Contains(err.Error(), want) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%s: error %q, want one line with %q", way, err, want)
		}
		if o == nil || o.Name() != "off" {
			t.Errorf("%s: no silent output", way)
		}
	}
}

// counting is a stream whose frame n is (n+1)/32767 on the left, and where that
// would be over 30000/32767, begins anew with 1 more on the right.
type counting struct{ at, length int }

func (c *counting) Stream(fs [][2]float64) (int, bool) {
	n := min(len(fs), c.length-c.at)
	for i := range fs[:n] {
		fs[i] = [2]float64{float64(c.at%30000+1) / math.MaxInt16, float64(c.at/30000) / math.MaxInt16}
		c.at++
	}
	return n, n > 0
}
func (c *counting) Err() error       { return nil }
func (c *counting) Len() int         { return c.length }
func (c *counting) Position() int    { return c.at }
func (c *counting) Seek(p int) error { c.at = p; return nil }

var _ beep.StreamSeeker = (*counting)(nil)

// What is sent to a stream: all of the source, silence while it joins, the rest
// of the source from where it joins.
func TestPull(t *testing.T) {
	for _, test := range []struct {
		name  string
		sent  int
		frame int // due as the next one to send
		want  []int
		ended bool
	}{
		{"from the start", 0, 0, []int{1, 2, 3, 4, 5}, false},
		{"joined before its start", 100, -2, []int{0, 0, 1, 2, 3}, false},
		{"joined in the middle", 100, 4, []int{5, 6, 7, 8}, true},
		{"joined at its end", 100, 8, nil, true},
		{"joined after its end", 100, 9, nil, true},
	} {
		o := &player{src: &counting{length: 8}, plays: 1}
		st := &feed{play: 1, sent: test.sent, offset: test.frame - test.sent}
		o.seek(st, max(0, test.frame))
		fs := make([][2]float64, 5)
		var got []int
		for _, f := range fs[:o.pull(st, fs)] {
			got = append(got, int(math.Round(f[0]*math.MaxInt16)))
		}
		if !slices.Equal(got, test.want) || st.ended != test.ended {
			t.Errorf("%s: %v, ended %v; want %v, %v", test.name, got, st.ended, test.want, test.ended)
		}

		st.play = 2 // another has been played since
		if n := o.pull(st, fs); n != 0 {
			t.Errorf("%s: %d frames of a stream that has been replaced", test.name, n)
		}
	}

	o := &player{src: &counting{length: 8}, plays: 1}
	st := &feed{play: 1, joining: true}
	fs := [][2]float64{{1, 1}, {1, 1}}
	if n := o.pull(st, fs); n != 2 || fs[0] != [2]float64{} || fs[1] != [2]float64{} {
		t.Errorf("joining, it sends %v", fs[:n])
	}
}

func TestPack(t *testing.T) {
	got := pack(make([]byte, 0, 12), [][2]float64{{0, 1}, {-1, 7}, {-7, 1.0 / math.MaxInt16}})
	want := []byte{0, 0, 0xff, 0x7f, 0x01, 0x80, 0xff, 0x7f, 0x01, 0x80, 1, 0}
	if !slices.Equal(got, want) {
		t.Errorf("% x, want % x", got, want)
	}
}

// A link whose context has already ended closes its connection.
func TestLinkWhoseContextHasEnded(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	conn, server := net.Pipe()
	defer server.Close()
	l := newLink(ctx, conn)
	<-l.ctx.Done()
	if err := l.why(); !errors.Is(err, context.Canceled) {
		t.Errorf("it ended because of %v", err)
	}
	if _, err := conn.Write([]byte{0}); !errors.Is(err, io.ErrClosedPipe) {
		t.Errorf("the connection is left open: writing gives %v", err)
	}
}
