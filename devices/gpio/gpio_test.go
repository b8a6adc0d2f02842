package gpio

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
	"testing/synctest"
	"time"

	periph "periph.io/x/conn/v3/gpio"
)

// fakeLine logs what is done to it and behaves as the library's line does:
// after an error and no Close, it writes to descriptor 0.
type fakeLine struct {
	log  []string
	fail error
	lost bool
}

func (l *fakeLine) Out(level periph.Level) error {
	switch {
	case l.fail != nil:
		l.lost = true
		l.log = append(l.log, "fail")
		return l.fail
	case l.lost:
		l.log = append(l.log, "descriptor 0")
		return nil
	}
	l.log = append(l.log, level.String())
	return nil
}

func (l *fakeLine) Close() { l.lost = false; l.log = append(l.log, "close") }

var errBusy = errors.New("GPIOLine.Out(): line_request ioctl: " + syscall.EBUSY.Error())

func TestOutput(t *testing.T) {
	l := &fakeLine{}
	o, err := openOutput("GPIO17 on pinctrl-bcm2711", "", l)
	if err != nil {
		t.Fatal(err)
	}
	try := func(on bool, wantErr bool) {
		t.Helper()
		if err := o.Set(on); (err != nil) != wantErr {
			t.Errorf("Set(%v): %v", on, err)
		}
	}
	try(true, false)
	try(false, false)
	l.fail = errBusy
	try(true, true)
	try(true, true)
	l.fail = nil
	try(true, false)
	for range 2 {
		if err := o.Close(); err != nil {
			t.Error(err)
		}
	}
	try(true, true) // closed
	want := []string{"Low", "High", "Low", "fail", "close", "fail", "close", "High", "Low", "close"}
	if !slices.Equal(l.log, want) {
		t.Errorf("did %v, want %v", l.log, want)
	}
}

func TestOutputClosesWhatFails(t *testing.T) {
	l := &fakeLine{}
	o, err := openOutput("GPIO17 on pinctrl-bcm2711", "", l)
	if err != nil {
		t.Fatal(err)
	}
	l.fail = errors.New("no such device")
	if err := o.Close(); err == nil {
		t.Error("Close hides that the pin could not be switched off")
	}
	if last := l.log[len(l.log)-1]; last != "close" {
		t.Errorf("did %v, want the line let go", l.log)
	}
}

func TestBusyLineNamesItsHolderAndTheCure(t *testing.T) {
	for holder, want := range map[string]string{"spi0 CS0": `"spi0 CS0" holds it`, "": "another program, perhaps this one started twice, holds it"} {
		l := &fakeLine{fail: errBusy}
		_, err := openOutput("GPIO8 on pinctrl-bcm2711", holder, l)
		if err == nil {
			t.Fatal("a busy line was opened")
		}
		for _, part := range []string{"GPIO8 on pinctrl-bcm2711 is busy", want, "config.txt"} {
			if !strings.Contains(err.Error(), part) {
				t.Errorf("%q does not have %q", err, part)
			}
		}
		if !slices.Equal(l.log, []string{"fail", "close"}) {
			t.Errorf("did %v, want the line let go", l.log)
		}
	}
}

func TestReachable(t *testing.T) {
	dir := t.TempDir()
	files := filepath.Join(dir, "gpiochip*")
	denied := func(path string) error { return &fs.PathError{Op: "open", Path: path, Err: fs.ErrPermission} }
	if err := reachable(files, denied); err == nil || !strings.Contains(err.Error(), "no GPIO chip") {
		t.Errorf("without a chip: %v", err)
	}
	for _, n := range []string{"gpiochip0", "gpiochip4"} {
		if err := os.WriteFile(filepath.Join(dir, n), nil, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	err := reachable(files, denied)
	if err == nil || !errors.Is(err, fs.ErrPermission) || !strings.Contains(err.Error(), "usermod -aG gpio") {
		t.Errorf("without permission: %v", err)
	}
	if err := reachable(files, func(path string) error {
		if filepath.Base(path) == "gpiochip4" {
			return nil
		}
		return denied(path)
	}); err != nil {
		t.Errorf("one chip of two is enough: %v", err)
	}
}

func TestInRuns(t *testing.T) {
	for _, c := range []struct{ names, want string }{
		{"ID_SDA ID_SCL GPIO2 GPIO3 GPIO4 - GPIO6", "ID_SDA, ID_SCL, GPIO2 to GPIO4, GPIO6"},
		{"GPIO1 GPIO2", "GPIO1, GPIO2"},
		{"GPIO1 GPIO3", "GPIO1, GPIO3"},
		{"A1 B2 B3 B4", "A1, B2 to B4"},
		{"- _", "no lines with names"},
	} {
		if got := inRuns(strings.Fields(c.names)); got != c.want {
			t.Errorf("%s: %q, want %q", c.names, got, c.want)
		}
	}
}

// edge is an edge that comes when it is asked for, after a wait.
type edge struct {
	after time.Duration
	edge  periph.Edge
	err   error
}

// fakeLines plays edges to whoever waits.
type fakeLines struct {
	level  bool
	edges  []edge
	reads  error
	silent map[int]bool // read number that finds the level changed with no edge
	read   int
	closed int
}

func (f *fakeLines) Read(mask periph.GPIOValue) (periph.GPIOValue, error) {
	if f.silent[f.read] {
		f.level = !f.level
	}
	f.read++
	if f.level {
		return 1, f.reads
	}
	return 0, f.reads
}

func (f *fakeLines) WaitForEdge(timeout time.Duration) (int, periph.Edge, error) {
	if len(f.edges) == 0 || f.edges[0].after > timeout {
		if len(f.edges) > 0 {
			f.edges[0].after -= timeout
		}
		time.Sleep(timeout)
		return 0, periph.NoEdge, &fs.PathError{Op: "read", Path: "gpio-lineset", Err: os.ErrDeadlineExceeded}
	}
	e := f.edges[0]
	f.edges = f.edges[1:]
	time.Sleep(e.after)
	if e.err == nil {
		f.level = e.edge == periph.RisingEdge
	}
	return 0, e.edge, e.err
}

func (f *fakeLines) Close() error { f.closed++; return nil }

// seen is what Watch told, in milliseconds from its start.
type seen struct {
	ms   int64
	high bool
}

func watch(in *Input, d time.Duration) (told []seen, err error) {
	ctx, cancel := context.WithTimeout(context.Background(), d)
	defer cancel()
	began := time.Now()
	err = in.Watch(ctx, func(at time.Time, high bool) {
		told = append(told, seen{at.Sub(began).Milliseconds(), high})
	})
	return told, err
}

func TestWatch(t *testing.T) {
	const rising, falling, ms = periph.RisingEdge, periph.FallingEdge, time.Millisecond
	for _, c := range []struct {
		name  string
		lines *fakeLines
		want  []seen
	}{
		{"an edge whose level was seen already", &fakeLines{level: true, silent: map[int]bool{1: true}, edges: []edge{
			{after: 102 * ms, edge: falling}, {after: ms, edge: rising}}},
			[]seen{{1, true}, {101, false}, {103, true}}},
		{"level first, then every edge of a bounce", &fakeLines{level: true, edges: []edge{
			{after: 51 * ms, edge: falling}, {after: ms, edge: rising}, {after: 2 * ms, edge: falling}, {after: 200 * ms, edge: rising}}},
			[]seen{{1, true}, {51, false}, {52, true}, {54, false}, {254, true}}},
		{"edges that waited are dropped", &fakeLines{level: true, edges: []edge{
			{edge: falling}, {edge: rising}, {edge: falling}, {after: 21 * ms, edge: rising}}},
			[]seen{{1, false}, {21, true}}},
		{"a level that changed without an edge", &fakeLines{level: true, silent: map[int]bool{2: true}},
			[]seen{{1, true}, {201, false}}},
	} {
		synctest.Test(t, func(t *testing.T) {
			in := &Input{where: "GPIO27 on chip", request: func() (lines, error) { return c.lines, nil }}
			told, err := watch(in, 500*ms)
			if err != nil {
				t.Fatal(c.name, err)
			}
			if !slices.Equal(told, c.want) {
				t.Errorf("%s: told %v, want %v", c.name, told, c.want)
			}
		})
	}
}

func TestWatchEndsWithItsContext(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		in := &Input{request: func() (lines, error) { return &fakeLines{}, nil }}
		began := time.Now()
		if _, err := watch(in, 330*time.Millisecond); err != nil {
			t.Error(err)
		}
		if d := time.Since(began); d > 430*time.Millisecond {
			t.Errorf("ended after %v, want 330 ms and at most 100 more", d)
		}
	})
}

func TestInputTakesItsLineAgain(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		bad := &fakeLines{edges: []edge{{after: 5 * time.Millisecond, err: errors.New("no such device")}}}
		good := &fakeLines{level: true}
		taken := []*fakeLines{bad, good}
		in := &Input{where: "GPIO27 on chip", request: func() (lines, error) {
			l := taken[0]
			taken = taken[1:]
			return l, nil
		}}
		_, err := watch(in, time.Second)
		if err == nil || !strings.Contains(err.Error(), "GPIO27 on chip") || bad.closed != 1 {
			t.Errorf("error %v, let go %d times", err, bad.closed)
		}
		if high, err := in.Read(); !high || err != nil {
			t.Errorf("then %v, %v; want high", high, err)
		}
		good.reads = errors.New("gone")
		if _, err := in.Read(); err == nil || good.closed != 1 {
			t.Errorf("error %v, let go %d times", err, good.closed)
		}
		if err := in.Close(); err != nil {
			t.Error(err)
		}
		if _, err := in.Read(); !errors.Is(err, errClosed) {
			t.Errorf("after Close: %v", err)
		}
	})
}
