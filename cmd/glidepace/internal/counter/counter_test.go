package counter

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"reflect"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"
	"unicode/utf8"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/pacer/rate"
)

// pressing presses keys, each so many seconds after the one before; a negative
// time is the end of the input.
func pressing(ctx context.Context, keys []string, after []float64) <-chan press {
	presses := make(chan press)
	go func() {
		for i, key := range keys {
			select {
			case <-time.After(time.Duration(max(0, after[i]) * float64(time.Second))):
			case <-ctx.Done():
				return
			}
			if after[i] < 0 {
				key = ""
			}
			select {
			case presses <- press{time.Now(), key}:
			case <-ctx.Done():
				return
			}
		}
	}()
	return presses
}

// tooFew is the error for so many presses.
func tooFew(n int) error { return &rate.TooFewPressesError{Presses: n, Usable: n} }

func TestCountPresses(t *testing.T) {
	for name, c := range map[string]struct {
		keys  string // one a press; . ends the input, ^ is a keypad key that has a q in it
		after []float64
		ends  float64 // seconds
		rate  float64
		err   error
	}{
		"seven even ones":            {" \nx a1é", []float64{9, 4, 4, 4, 4, 4, 4}, 33, 15, nil},
		"uneven ones, to the minute": {"        ", []float64{9, 4, 6, 4, 6, 4, 6, 4}, 69, 15, nil},
		"q is enough":                {"       Q", []float64{0, 4, 6, 4, 6, 4, 6, 1}, 31, 12, nil},
		"q is too early":             {"   q", []float64{0, 4, 4, 1}, 9, 15, tooFew(3)},
		"nothing but q":              {"q", []float64{5}, 5, 0, tooFew(0)},
		"the input ends":             {"   .", []float64{0, 4, 4, -1}, 8, 15, tooFew(3)},
		"nobody goes on":             {"   ", []float64{3, 4, 4}, 123, 15, tooFew(3)},
		"a function key":             {" ^     ", []float64{0, 4, 4, 4, 4, 4, 4}, 24, 15, nil},
		"too late by a hair":         {"       ", []float64{0, 20, 20, 20, 20, 20, 20.001}, 120, 3, tooFew(6)},
		"a late seventh":             {"       ", []float64{0, 11, 15, 11, 15, 11, 15}, 78, 60 / 13.0, nil},
		"Ctrl-C, where read":         {"  \x03", []float64{0, 4, 4}, 8, 0, context.Canceled},
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				var out bytes.Buffer
				began := time.Now()
				keys := strings.Split(c.keys, "")
				if i := slices.Index(keys, "^"); i >= 0 {
					keys[i] = "\x1bOq"
				}
				r, err := countPresses(t.Context(), pressing(t.Context(), keys, c.after), &out)
				if took := time.Since(began).Seconds(); took != c.ends {
					t.Errorf("it takes %v s, want %v", took, c.ends)
				}
				if !reflect.DeepEqual(err, c.err) {
					t.Errorf("got error %v, want %v", err, c.err)
				}
				if fmt.Sprintf("%.6f", r.Rate) != fmt.Sprintf("%.6f", c.rate) {
					t.Errorf("rate %v, want %v", r.Rate, c.rate)
				}
				if strings.ContainsAny(out.String(), "\r\x1b") {
					t.Errorf("lines are written over where there is no terminal: %q", &out)
				}
			})
		})
	}
}

func TestCountIsBrokenOff(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ctx, cancel := context.WithTimeout(t.Context(), 5*time.Second)
		defer cancel()
		if _, err := countPresses(ctx, pressing(ctx, []string{" ", " "}, []float64{1, 1}), io.Discard); !errors.Is(err, context.Canceled) {
			t.Errorf("got %v", err)
		}
	})
	// A reader that never gives anything is left behind.
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	stuck, _ := io.Pipe()
	if _, err := Times(ctx, stuck, io.Discard); !errors.Is(err, context.Canceled) {
		t.Errorf("got %v", err)
	}
}

// The rate as it builds up, with keys from a pipe.
func TestCountShowsTheRate(t *testing.T) {
	var out bytes.Buffer
	_, err := Keys(t.Context(), strings.NewReader("q"), &out)
	if !reflect.DeepEqual(err, tooFew(0)) || !strings.HasPrefix(out.String(), "Press a key at each inhale") {
		t.Errorf("got %v and %q", err, &out)
	}
	times := []float64{0}
	for i, want := range []string{
		"1 press", "2 presses, 15.0/min so far", "3 presses, 15.0/min so far", "4 presses, 15.0/min so far",
		"5 presses, 15.0/min so far", "6 presses, 15.0/min so far", "7 presses, 15.0/min (15.0 to 15.0)",
	} {
		r, _ := rate.Count(times)
		if got := soFar(r); got != want {
			t.Errorf("after %d presses: %q, want %q", i+1, got, want)
		}
		times = append(times, float64(4*(i+1)))
	}
	widest := soFar(rate.CountResult{Presses: 99, Rate: 100.1, RateLow: 100.1, RateHigh: 100.1})
	if utf8.RuneCountInString(widest) >= 40 {
		t.Errorf("%q does not fit a narrow window", widest)
	}
}

func TestReadTimes(t *testing.T) {
	const few = "\n4\n8\n"
	for in, want := range map[string][]float64{
		"":                              nil,
		" 0 \r\n\n1.5\n2e0":             {0, 1.5, 2},
		"-3\n-3\n4\n":                   {-3, -3, 4},
		"0\n4\n8\n12\n16\n20\n24\nwhat": {0, 4, 8, 12, 16, 20, 24},  // not read any more
		"0\n1\n119.5\n120.5\nwhat":      {0, 1, 119.5},              // over 120 s
		"1764547200.5" + "\n1764547204": {1764547200.5, 1764547204}, // Unix time
		"1985-04-12T23:20:50.52Z\n1985-04-13T00:20:54.77+01:00": {0, 4.25},
	} {
		got, err := readTimes(strings.NewReader(in))
		if err != nil || fmt.Sprint(got) != fmt.Sprint(want) {
			t.Errorf("%q is read as %v, %v; want %v", in, got, err, want)
		}
	}
	for in, want := range map[string]string{
		"0\nabc\n":                          `line 2: "abc" is neither seconds (12.5) nor a date and time`,
		"0\n\n3,5":                          `line 3: "3,5" is neither`,
		"NaN":                               `line 1: "NaN" is neither`,
		"0\n+Inf":                           `line 2: "+Inf" is neither`,
		"0" + few + "7.9":                   `line 4: "7.9" is before the line above it: sort the times`,
		"0\n2026-01-31T08:00:12Z":           "line 2: \"2026-01-31T08:00:12Z\": either all times are seconds or all are dates and times",
		"2026-01-31T08:00:12Z\n3":           `line 2: "3": either all`,
		"2026-01-31T08:00:12":               `line 1: "2026-01-31T08:00:12" is neither`,
		"0\n" + strings.Repeat("x", 70_000): "line 2: bufio.Scanner: token too long",
		strings.Repeat("0\n", mostTimes+10): "line 5001: more than 5000 times in one count",
	} {
		_, err := readTimes(strings.NewReader(in))
		var usage console.UsageError
		if !errors.As(err, &usage) || !strings.HasPrefix(err.Error(), "standard input, "+want) {
			t.Errorf("%.40q: %v, want %s", in, err, want)
		}
	}
}

func FuzzReadTimes(f *testing.F) {
	for _, seed := range []string{"0\n4\n8\n12\n16\n20\n24\n", "-1e300\n1e300", "2026-01-31T08:00:12Z\n2026-01-31T08:00:16.5Z\n"} {
		if times, err := readTimes(strings.NewReader(seed)); len(times) == 0 || err != nil {
			f.Fatalf("seed %q: %v, %v", seed, times, err)
		}
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, in string) {
		times, err := readTimes(strings.NewReader(in))
		if err != nil {
			return
		}
		_, err = rate.Count(times)
		if err != nil && !errors.As(err, new(*rate.TooFewPressesError)) {
			t.Error(err)
		}
	})
}
