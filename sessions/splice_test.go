package sessions_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"math"
	"reflect"
	"strings"
	"testing"

	"glidepace/sessions"
)

// slow is what most of the files below are tuned to; even has no taper.
var (
	slow = sessions.Tuning{
		Rate: 6.5, Ratio: sessions.Ratio{Inhale: 1, Exhale: 1.6},
		Taper: &sessions.Taper{From: 14, Breaths: 16}, LeadIn: 16,
	}
	even = sessions.Tuning{Rate: 12, Ratio: sessions.Ratio{Inhale: 1, Exhale: 1}}
)

const asItWas = `
breath:
  rate: 8.50
  ratio: 1:1.50   # as it was
  taper: {from: 12.0, breaths: 9}
`

// spliceCases are pairs of texts between the head and the tail of a session
// file, before and after.
var spliceCases = []struct {
	name          string
	before, after string
	to            sessions.Tuning
}{
	{"in lines, all there", `
# The breath. Chosen on Monday.
breath:   # see the notes
  match: exhale-on-glide

  rate: 8       # was 9
  ratio:   # long exhale
    "1:1.5"
  pause: 0.5s
  taper:
    breaths: 9  # from the count
    from:
      12
# At rest.
lead_in: {breaths: 9}   # in the lap

set_up: 15s
`, `
# The breath. Chosen on Monday.
breath:   # see the notes
  match: exhale-on-glide

  rate: 6.5       # was 9
  ratio:   # long exhale
    "1:1.6"
  pause: 0.5s
  taper:
    breaths: 16  # from the count
    from:
      14
# At rest.
lead_in: {breaths: 16}   # in the lap

set_up: 15s
`, slow},

	{"in lines, all absent", `
breath:
    rate: 8   # too fast?
    # Pause: to be asked.
    pause: 0.3s
    # Nothing else yet.

# Here it goes.
set_up: 15s
`, `
breath:
    rate: 6.5   # too fast?
    ratio: "1:1.6"
    taper: {from: 14, breaths: 16}
    # Pause: to be asked.
    pause: 0.3s
    # Nothing else yet.
lead_in: {breaths: 16}

# Here it goes.
set_up: 15s
`, slow},

	{"in braces, all there", `
breath: { ratio: '1:1', taper: { breaths: 9, from: 12 } ,rate: 8.0 }# one line
lead_in: {breaths: 9 }
`, `
breath: { ratio: "1:1.6", taper: { breaths: 16, from: 14 } ,rate: 6.5 }# one line
lead_in: {breaths: 16 }
`, slow},

	{"in braces over lines, all absent", `
breath: {
    rate: 8,   # a } here
    pause: 0.5s   # and a 'here
  }
`, `
breath: {
    rate: 6.5, ratio: "1:1.6", taper: {from: 14, breaths: 16},   # a } here
    pause: 0.5s   # and a 'here
  }
lead_in: {breaths: 16}
`, slow},

	{"lengths", `
breath:
  inhale: 3s     # counted
  exhale: "4.5s"   # with a sigh
  pause: 0.5s
`, `
breath:
  rate: 6.5     # counted
  ratio: "1:1.6"   # with a sigh
  taper: {from: 14, breaths: 16}
  pause: 0.5s
lead_in: {breaths: 16}
`, slow},

	{"no taper any more, in lines", `
breath:
  rate: 8
  taper: {from: 12, breaths: 9}
  ratio: "1:1"
lead_in: {breaths: 9}
`, `
breath:
  rate: 12
  ratio: "1:1"
lead_in: {breaths: 0}
`, even},

	{"no taper any more, in braces", `
breath: {rate: 8, taper: {from: 12, breaths: 9}, pause: 0.5s}
`, `
breath: {rate: 12, ratio: "1:1", pause: 0.5s}
`, even},

	{"nothing to change", asItWas, asItWas, sessions.Tuning{Rate: 8.5, Ratio: sessions.Ratio{Inhale: 1, Exhale: 1.5}, Taper: &sessions.Taper{From: 12, Breaths: 9}}},
}

const spliceHead = "# Größe: \"niño\" {\nglidepace: 1\ntitle: 'It''s # one'   # a title\n"
const spliceTail = "exercises:\n  - {glide: median-wrist, side: right, reps: 5}\n# The end.\n"

// Each file is changed as the table says and nowhere else: with and without a
// byte order mark, with either kind of line end, with the breath in the middle
// and as the last thing in the file, with and without a line break there.
func TestSplice(t *testing.T) {
	windows := func(s string) string { return strings.ReplaceAll(s, "\n", "\r\n") }
	for _, c := range spliceCases {
		for _, way := range []struct {
			name       string
			head, tail string
			as         func(string) string
		}{
			{"in the middle", spliceHead, spliceTail, func(s string) string { return s }},
			{"windows", "\uFEFF" + spliceHead, spliceTail, windows},
			{"indented", "", "", func(s string) string {
				return strings.ReplaceAll("\n"+spliceHead+s+spliceTail, "\n", "\n   ")
			}},
			{"last", spliceHead + spliceTail, "", func(s string) string { return s }},
			{"windows, last, no line break", spliceHead + spliceTail, "", func(s string) string { return windows(strings.TrimSuffix(s, "\n")) }},
		} {
			t.Run(c.name+"/"+way.name, func(t *testing.T) {
				before, want := way.as(way.head+c.before+way.tail), way.as(way.head+c.after+way.tail)
				got, err := sessions.Splice("f", []byte(before), c.to)
				if err != nil {
					t.Fatalf("%v\n%s", err, before)
				}
				if string(got) != want {
					t.Errorf("got:\n%q\nwant:\n%q", got, want)
				}
				checkSpliced(t, before, got, c.to)
			})
		}
	}
}

func TestSpliceRefuses(t *testing.T) {
	good := spliceHead + "breath: {rate: 8}\n" + spliceTail
	const inPlace = "the breath cannot be changed in place"
	for _, c := range []struct {
		name, src string
		to        sessions.Tuning
		want      string
	}{
		{"a file with a problem", spliceHead + "breath: {rate: 80}\n" + spliceTail, slow, `f:4:16: rate: "80" is out of range; allowed: 3 to 30 breaths per minute`},
		{"a rate out of range", good, sessions.Tuning{Rate: 2.5, Ratio: slow.Ratio}, inPlace + `: f:4:16: rate: "2.5" is out of range`},
		{"no number", good, sessions.Tuning{Rate: math.NaN(), Ratio: slow.Ratio}, inPlace},
		{"a ratio in a block of text", spliceHead + "breath:\n  rate: 8\n  ratio: |-\n    1:1\n" + spliceTail, slow, "f: " + inPlace},
		{"escapes in quotes", spliceHead + "breath: {rate: 8, ratio: \"1\\x3a1\"}\n" + spliceTail, slow, "f: " + inPlace},
		{"absent from JSON", spliceHead + `breath: {"rate": 8}` + "\n" + spliceTail, slow, "f: " + inPlace},
		{"lengths in JSON", spliceHead + `breath: {"inhale": 3s, "exhale": 4s}` + "\n" + spliceTail, slow, "f: " + inPlace},
		{"a taper with comments goes", spliceHead + "breath:\n  rate: 8\n  taper: {from: 12, breaths: 9} # as counted\n" + spliceTail, even, "f: " + inPlace},
		{"too long", good + "#" + strings.Repeat("x", 64<<10-len(good)-2), slow, "larger than 64 KiB"},
	} {
		got, err := sessions.Splice("f", []byte(c.src), c.to)
		if err == nil || !strings.Contains(err.Error(), c.want) || errors.Is(err, sessions.ErrInPlace) != strings.Contains(err.Error(), inPlace) {
			t.Errorf("%s: got error %v, want %q in it", c.name, err, c.want)
		}
		if got != nil {
			t.Errorf("%s: there is a text beside the error", c.name)
		}
	}
}

// checkSpliced fails where a spliced file does not mean what it was tuned to,
// means anything else differently, lacks a comment, or would be changed again.
func checkSpliced(t interface {
	Helper()
	Errorf(string, ...any)
}, before string, got []byte, to sessions.Tuning) {
	t.Helper()
	was, err := sessions.Parse("f", strings.NewReader(before))
	if err != nil {
		t.Errorf("before: %v", err)
		return
	}
	now, err := sessions.Parse("f", bytes.NewReader(got))
	if err != nil {
		t.Errorf("%v in:\n%s", err, got)
		return
	}
	was.LeadIn, was.Breath.Inhale, was.Breath.Exhale = to.LeadIn, 0, 0
	was.Breath.Rate, was.Breath.Ratio, was.Breath.Taper = to.Rate, to.Ratio, to.Taper
	a, errA := json.Marshal(was)
	b, errB := json.Marshal(now)
	if errA != nil || errB != nil || !bytes.Equal(a, b) {
		t.Errorf("it means %s, want %s (%v, %v)", b, a, errB, errA)
	}
	if a, b := comments(before), comments(string(got)); !reflect.DeepEqual(a, b) {
		t.Errorf("the comments were %q, are %q", a, b)
	}
	if again, err := sessions.Splice("f", got, to); err != nil || !bytes.Equal(again, got) {
		t.Errorf("the same again gives (%v)\n%s\nafter\n%s", err, again, got)
	}
}

// comments returns the lines of a text that begin with #.
func comments(text string) []string {
	var list []string
	for line := range strings.Lines(text) {
		if line = strings.TrimSpace(line); strings.HasPrefix(line, "#") {
			list = append(list, line)
		}
	}
	return list
}

// No text makes Splice panic, change a comment, or give a file that means
// something else.
func FuzzSplice(f *testing.F) {
	for _, name := range sessionFiles(f, ".", "good") {
		f.Add(readFile(f, name), 6.5, 1.6, 14.0, 16, 16)
	}
	for _, c := range spliceCases {
		from, breaths := 0.0, 0
		if c.to.Taper != nil {
			from, breaths = c.to.Taper.From, c.to.Taper.Breaths
		}
		f.Add([]byte(spliceHead+c.before+spliceTail), c.to.Rate, c.to.Ratio.Exhale, from, breaths, c.to.LeadIn)
	}
	f.Fuzz(func(t *testing.T, src []byte, rate, exhale, from float64, breaths, leadIn int) {
		to := sessions.Tuning{Rate: rate, Ratio: sessions.Ratio{Inhale: 1, Exhale: exhale}, LeadIn: leadIn}
		if breaths != 0 {
			to.Taper = &sessions.Taper{From: from, Breaths: breaths}
		}
		if got, err := sessions.Splice("f", src, to); err == nil {
			checkSpliced(t, string(src), got, to)
		}
	})
}
