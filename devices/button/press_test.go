package button

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

const (
	ms = time.Millisecond
	// longestBounce is the worst of 16 switches, at 1.6 ms on average: Jack
	// Ganssle, "A Guide to Debouncing".
	longestBounce = 6200 * time.Microsecond
)

var zero = time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)

// reading is the level of a button from a moment on.
type reading struct {
	at      time.Duration
	pressed bool
}

// wave makes readings of a button that changes its level at each edge.
func wave(edges []time.Duration) []reading {
	list := []reading{{0, false}}
	for i, at := range edges {
		list = append(list, reading{at, i%2 == 0})
	}
	return list
}

// read debounces readings, with time passing between them until the end; with no
// end, it is not seen to pass.
func read(list []reading, end time.Duration) (told []Press) {
	var d Debounce
	pass := func(until time.Duration) {
		for due := d.Due(); end > 0 && !due.IsZero() && !due.After(zero.Add(until)); due = d.Due() {
			told = append(told, d.Pass(due)...)
		}
	}
	for _, r := range list {
		pass(r.at)
		told = append(told, d.Level(zero.Add(r.at), r.pressed)...)
	}
	pass(end)
	return told
}

var names = [...]string{Down: "down", Short: "short", Held: "held", Stuck: "stuck", Long: "long"}

// tale writes presses as "down 100, short 200", in milliseconds.
func tale(told []Press) string {
	var list []string
	for _, p := range told {
		list = append(list, fmt.Sprintf("%s %g", names[p.Kind], float64(p.At.Sub(zero))/float64(ms)))
	}
	return strings.Join(list, ", ")
}

// micro makes edges of microseconds after a start.
func micro(start time.Duration, after ...int) (list []time.Duration) {
	for _, us := range after {
		list = append(list, start+time.Duration(us)*time.Microsecond)
	}
	return list
}

func TestDebounce(t *testing.T) {
	for name, c := range map[string]struct {
		edges []time.Duration
		want  string
	}{
		"clean": {slices.Concat(micro(100*ms, 0), micro(250*ms, 0)), "down 100, short 270"},
		"bounce of both edges, average": {slices.Concat(
			micro(100*ms, 0, 120, 310, 350, 900, 1040, 1600),
			micro(253*ms, 0, 90, 400, 480, 1600)),
			"down 100, short 274.6"},
		"bounce of both edges, longest": {slices.Concat(
			micro(100*ms, 0, 100, 1900, 2000, 4100, 4900, 6200),
			micro(250*ms, 0, 2400, 2500, 6100, 6200)),
			"down 100, short 276.2"},
		"a graze of the contact": {micro(100*ms, 0, 150), "down 100, short 120.15"},
		"a light finger that loses touch for 19 ms": {
			micro(0, 100_000, 150_000, 169_000, 300_000), "down 100, short 320"},
		"let go for 20 ms and pressed again": {
			micro(0, 100_000, 150_000, 170_000, 300_000), "down 100, short 170, down 170, short 320"},
		"just short": {micro(0, 100_000, 2_099_900), "down 100, short 2119.9"},
		"just held":  {micro(0, 100_000, 2_100_100), "down 100, held 2100, long 2120.1"},
		"held across a bounce at 2 s": {micro(0, 100_000, 2_099_000, 2_101_000, 2_103_000),
			"down 100, held 2101, long 2123"},
		"stuck": {micro(0, 100_000, 11_000_000), "down 100, held 2100, stuck 10100, long 11020"},
	} {
		t.Run(name, func(t *testing.T) {
			if got := tale(read(wave(c.edges), 20*time.Second)); got != c.want {
				t.Errorf("got  %s\nwant %s", got, c.want)
			}
		})
	}
}

// A press that is there at first has no beginning, and is not told as one.
func TestDownAtFirst(t *testing.T) {
	told := read([]reading{{0, true}, {100 * ms, false}, {200 * ms, true}}, time.Second)
	if got, want := tale(told), "short 120, down 200"; got != want || !told[0].Began.IsZero() || told[1].Began.IsZero() {
		t.Errorf("got %s, want %s: %+v", got, want, told)
	}
}

// Readings that are missing make two presses of one, and short ones of held
// ones, never the other way.
func TestDoubt(t *testing.T) {
	for name, c := range map[string]struct {
		list []reading
		want string
	}{
		"held for 3 s, no reading before it was let go": {
			[]reading{{0, false}, {100 * ms, true}, {3100 * ms, false}, {3120 * ms, false}}, "down 100, short 3120"},
		"let go, no reading before it was pressed again": {
			[]reading{{0, false}, {100 * ms, true}, {200 * ms, false}, {500 * ms, true}}, "down 100, short 500, down 500"},
		"no reading from 1 s on": {
			[]reading{{0, false}, {100 * ms, true}, {1000 * ms, true}, {11 * time.Second, true}, {11010 * ms, true}},
			"down 100, held 11000, stuck 11010"},
	} {
		t.Run(name, func(t *testing.T) {
			if got := tale(read(c.list, 0)); got != c.want {
				t.Errorf("got  %s\nwant %s", got, c.want)
			}
		})
	}
}

// bounce draws the edges of one change of level, the first at start: an odd
// number within the longest bounce.
func bounce(t *rapid.T, start time.Duration) []time.Duration {
	more := rapid.SliceOfNDistinct(rapid.IntRange(1, int(longestBounce/time.Microsecond)), 0, 20, rapid.ID).Draw(t, "bounce")
	slices.Sort(more)
	return micro(start, append([]int{0}, more[:len(more)/2*2]...)...)
}

// However its contacts bounce, a press is told once: at its first edge, and as
// short or held by its length.
func TestAnyBounce(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var edges []time.Duration
		var want []Kind
		var downs []time.Duration
		at := 5 * ms
		for range rapid.IntRange(1, 6).Draw(t, "presses") {
			downs = append(downs, at)
			edges = append(edges, bounce(t, at)...)
			length := time.Duration(rapid.IntRange(7_000, 4_000_000).Draw(t, "length")) * time.Microsecond
			up := bounce(t, at+length)
			edges = append(edges, up...)
			// It is as long as it was last pressed, in its bounce too.
			if up[len(up)-1] >= at+heldFor {
				want = append(want, Down, Held, Long)
			} else {
				want = append(want, Down, Short)
			}
			at += length + longestBounce + settle + time.Duration(rapid.IntRange(0, 500).Draw(t, "gap"))*ms
		}
		told := read(wave(edges), at+2*settle)
		var got []Kind
		var began []time.Duration
		for _, p := range told {
			got = append(got, p.Kind)
			if p.Kind == Down {
				began = append(began, p.At.Sub(zero))
			}
		}
		if !slices.Equal(got, want) || !slices.Equal(began, downs) {
			t.Errorf("got %s\nwant downs at %v, kinds %v", tale(told), downs, want)
		}
	})
}

// Whatever is read, and whatever is lost of it: presses are told whole and in
// order, one begins with the first reading that shows it, and none stays when
// the button reads released.
func TestAnyReadings(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var d Debounce
		at, down, last := zero, false, Long
		take := func(pressed bool) {
			for _, p := range d.Level(at, pressed) {
				ok := false
				switch p.Kind {
				case Down:
					ok = !down && pressed && p.Began.Equal(at)
				case Held, Short:
					ok = down && last == Down
				case Stuck:
					ok = down && last == Held
				case Long:
					ok = down && (last == Held || last == Stuck)
				}
				if !ok {
					t.Fatalf("%s after %s", names[p.Kind], names[last])
				}
				last, down = p.Kind, p.Kind != Short && p.Kind != Long
			}
			if pressed && !down {
				t.Fatal("a press was lost")
			}
		}
		take(false)
		for range rapid.IntRange(0, 60).Draw(t, "readings") {
			at = at.Add(time.Duration(rapid.OneOf(rapid.IntRange(0, 7_000), rapid.IntRange(0, 12_000_000)).Draw(t, "after")) * time.Microsecond)
			take(rapid.Bool().Draw(t, "pressed"))
		}
		take(false)
		at = at.Add(settle)
		take(false)
		if down {
			t.Fatal("a press stayed")
		}
	})
}
