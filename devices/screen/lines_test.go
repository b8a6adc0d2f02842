package screen

import (
	"bytes"
	"errors"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/charmbracelet/x/ansi"

	"glidepace/devices/screen/scene"
	"glidepace/pacer"
	"glidepace/sessions"
)

// tell gives f the steps from i on to, but not including, step end.
func tell(f pacer.Follower, t *pacer.Timeline, i, end int, before time.Duration) {
	if i == 0 {
		f.Follow(pacer.Event{Kind: pacer.Began, Timeline: t, Session: before})
	}
	for ; i < end; i++ {
		f.Follow(pacer.Event{Kind: pacer.Stepped, Timeline: t, Step: i, Session: before + t.Steps[i].Onset()})
		if t.Steps[i].Move == pacer.Return {
			f.Follow(pacer.Event{Kind: pacer.Repeated, Timeline: t, Step: i, Session: before + pacer.Seconds(t.Steps[i].End())})
		}
	}
}

func TestLines(t *testing.T) {
	for name, file := range map[string]string{"lines-on-exhale.txt": onExhale, "lines-per-rep.txt": perRep, "lines-neck.txt": neck} {
		t.Run(name, func(t *testing.T) {
			var out bytes.Buffer
			tl := timeline(t, file)
			l := NewLines(&out)
			tell(l, tl, 0, len(tl.Steps), 0)
			l.Follow(pacer.Event{Kind: pacer.Ended, Timeline: tl, Outcome: sessions.Completed, Session: pacer.Seconds(tl.Duration)})
			golden(t, name, out.String())
			timed := regexp.MustCompile(`(?m)^\d+:\d\d\.\d  \S`).FindAllString(out.String(), -1)
			if got, want := len(timed), len(tl.Steps)+2; got != want {
				t.Errorf("%d lines with a time, want one a step, one at the start and one at the end: %d", got, want)
			}
		})
	}
}

func TestLinesOfAPauseAndOfEnough(t *testing.T) {
	var out bytes.Buffer
	l := NewLines(&out)
	tl := timeline(t, onExhale)
	second := find(t, tl, func(s pacer.Step) bool { return s.Move == pacer.Return && s.Rep == 2 })
	tell(l, tl, 0, second, 0)
	out.Reset()

	at := 50 * time.Second
	l.Follow(pacer.Event{Kind: pacer.Paused, Timeline: tl, Step: second, Session: at})
	rest := tl.GoOn(second)
	tell(l, rest, 0, 2, at)
	at += 5 * time.Second
	l.Follow(pacer.Event{Kind: pacer.EnoughSaid, Timeline: rest, Step: 1, Session: at})
	tell(l, rest.Enough(1), 0, 1, at)
	l.Follow(pacer.Event{Kind: pacer.Ended, Timeline: rest, Session: 61250 * time.Millisecond, Outcome: sessions.EndedEarly})

	want := `0:50.0  paused, let the arm hang and loosen it, breathe as you like; space goes on
0:50.0  going on
0:50.0  inhale, right side, set 1 of 1, from repetition 2 of 6
0:52.8  exhale, bend the wrist back, 2 of 6
0:55.0  enough for this set
0:55.0  let the arm hang and loosen it, breathe as you like for 20 seconds; next left side, wrist glide for the median nerve
1:01.3  ended early, let the arm hang and loosen it
`
	if out.String() != want {
		t.Errorf("got:\n%s", out.String())
	}
}

// stopping tells new Lines of stops for symptoms in step i, each with an answer after
// a minute, and returns what they write from the last one on.
func stopping(tl *pacer.Timeline, i int, answers ...pacer.Answer) string {
	var out bytes.Buffer
	l := NewLines(&out)
	tell(l, tl, 0, 1, 0)
	for _, a := range answers {
		out.Reset()
		e := pacer.Event{Kind: pacer.Stopped, Timeline: tl, Step: i, Session: 50 * time.Second, At: time.Now()}
		if a == pacer.TooOften || a == pacer.WarningSign {
			e.Answer = a
		}
		l.Follow(e)
		if a == pacer.Still || a == pacer.NoAnswer {
			e.Kind, e.At = pacer.StillThere, e.At.Add(2*time.Minute)
			l.Follow(e)
		}
		e.Kind, e.Answer, e.After = pacer.Answered, a, time.Minute
		l.Follow(e)
		switch a {
		case pacer.Settled:
			tell(l, tl.GoOnEased(i), 0, 3, e.Session)
		case pacer.OnlyPause:
			tell(l, tl.GoOn(i), 0, 1, e.Session)
		default:
			l.Follow(pacer.Event{Kind: pacer.Ended, Timeline: tl, Session: e.Session, Outcome: sessions.Symptoms})
		}
	}
	return out.String()
}

// The stop that ends the session offers no key to go on with. A warning sign can be
// said of any stop in a session with a neck glide.
func TestLinesOfAStop(t *testing.T) {
	const (
		last     = "0:50.0  stopped, let the arm hang and loosen it"
		stop     = last + "; when it has settled press Enter; u if it was only a pause; p for pain; b if light-headed, short of breath or tingling around the mouth"
		neckStop = stop + "; d if dizzy, unsteady or faint, if sight or speech or swallowing changes, or the face goes numb"
		question = "0:50.0  2:00 since you stopped; is it back to where it was? y: yes, go on gentler; n: no, end for today; without an answer the session ends\n"
	)
	ends := func(a pacer.Answer) string {
		return "0:50.0  ended for symptoms. " + scene.ClosingAdvice(sessions.Symptoms, a) + "\n"
	}
	glide := func(s pacer.Step) bool { return s.Move == pacer.Glide }
	fourth := func(s pacer.Step) bool { return s.Move == pacer.Glide && s.Rep == 4 }
	atTheFloor := strings.Replace(onExhale, "rate: 8", "rate: 6", 1)
	for _, c := range []struct {
		file    string
		step    func(pacer.Step) bool
		answers []pacer.Answer
		want    string
	}{
		{onExhale, fourth, []pacer.Answer{pacer.OnlyPause}, stop + "\n0:50.0  going on\n0:50.0  inhale, right side, set 1 of 1, from repetition 4 of 6\n"},
		{onExhale, fourth, []pacer.Answer{pacer.Settled}, stop + "\n0:50.0  going on gentler: slower, smaller, from repetition 4\n" +
			"0:50.0  take the start position again, right side, palm forward, 8 seconds, breathe as you like\n" +
			"0:58.0  inhale, right side, set 1 of 1, from repetition 4 of 4\n" +
			"1:01.6  exhale, bend the wrist back, 4 of 4, smaller\n"}, // 60/6.4 s less 0.5 s, 1:1.5: 3.55 s
		{atTheFloor, glide, []pacer.Answer{pacer.Settled}, stop + "\n0:50.0  going on gentler: smaller, and fewer, from repetition 1\n" +
			"0:50.0  take the start position again, right side, palm forward, 8 seconds, breathe as you like\n" +
			"0:58.0  inhale, right side, set 1 of 1, 4 repetitions\n" +
			"1:01.8  exhale, bend the wrist back, 1 of 4, smaller\n"}, // 60/6 s less 0.5 s, 1:1.5: 3.8 s
		{onExhale, fourth, []pacer.Answer{pacer.Pain}, stop + "\n" + ends(pacer.Pain)},
		{onExhale, fourth, []pacer.Answer{pacer.Breathing}, stop + "\n" + ends(pacer.Breathing)},
		{onExhale, fourth, []pacer.Answer{pacer.Still}, stop + "\n" + question + ends(pacer.Still)},
		{onExhale, fourth, []pacer.Answer{pacer.OnlyPause, pacer.Settled, pacer.TooOften}, last + "\n" + ends(pacer.TooOften)},
		{neck, glide, []pacer.Answer{pacer.WarningSign}, last + "\n" + ends(pacer.WarningSign)},
		{neck, glide, []pacer.Answer{pacer.Pain}, neckStop + "\n" + ends(pacer.Pain)},
	} {
		tl := timeline(t, c.file)
		if got := stopping(tl, find(t, tl, c.step), c.answers...); got != c.want {
			t.Errorf("%v: got:\n%s\nwant:\n%s", c.answers, got, c.want)
		}
	}
}

// A pause makes nothing gentler, also after symptoms.
func TestLinesOfAPauseAfterSymptoms(t *testing.T) {
	tl := timeline(t, onExhale)
	eased := tl.GoOnEased(7)
	var out bytes.Buffer
	l := NewLines(&out)
	tell(l, tl, 0, 1, 0)
	l.Follow(pacer.Event{Kind: pacer.Stopped, Timeline: tl, Step: 7})
	l.Follow(pacer.Event{Kind: pacer.Answered, Answer: pacer.Settled})
	tell(l, eased, 0, 3, 0)
	out.Reset()
	l.Follow(pacer.Event{Kind: pacer.Paused, Timeline: eased, Step: 2})
	tell(l, eased.GoOn(2), 0, 1, 0)
	if got := out.String(); !strings.Contains(got, "0:00.0  going on\n") {
		t.Errorf("got:\n%s", got)
	}
}

// A known session needs few words. After a stop in the lead-in, the place is taken
// again.
func TestLinesOfPostureAndSetUp(t *testing.T) {
	tl := timeline(t, strings.Replace(neck, "posture: full", "posture: short", 1))
	var out bytes.Buffer
	l := NewLines(&out)
	l.Follow(pacer.Event{Kind: pacer.Began, Timeline: tl})
	for _, m := range []pacer.Move{pacer.Posture, pacer.SetUp, pacer.Rest} {
		l.Follow(pacer.Event{Kind: pacer.Stepped, Timeline: tl, Step: find(t, tl, func(s pacer.Step) bool { return s.Move == m && (m != pacer.Rest || s.InSet()) })})
	}
	want := `0:00.0  Neck, in the second week, 3:03
0:00.0  take your place, hands off the keyboard, 6 seconds, breathe as you like
        Sit tall, shoulders low.
0:00.0  left side, get ready, neck glide for the median nerve, head upright, 10 seconds, breathe as you like
        d if dizzy, unsteady or faint, if sight or speech or swallowing changes, or the face goes numb
0:00.0  inhale, left side, set 1 of 2, 4 repetitions, half the way
`
	if out.String() != want {
		t.Errorf("got:\n%s", out.String())
	}

	want = `0:50.0  going on gentler: slower, smaller
0:50.0  take your place, hands off the keyboard, 8 seconds, breathe as you like
        Sit tall, shoulders low.
0:58.0  inhale, arms resting in your lap, breath 1 of 2
`
	if got := stopping(tl, 2, pacer.Settled); !strings.Contains(got, want) {
		t.Errorf("got:\n%s\nwant in it:\n%s", got, want)
	}
}

// What gets gentler is said, and nothing else.
func TestGentler(t *testing.T) {
	for e, want := range map[pacer.Easing]string{
		{Eased: true, Slower: true, Fewer: true}: "gentler: slower, smaller",
		{Eased: true, Slower: true}:              "gentler: slower, smaller",
		{Eased: true, Fewer: true}:               "gentler: smaller, and fewer",
		{Eased: true}:                            "gentler: smaller",
	} {
		if got := scene.Gentler(e); got != want {
			t.Errorf("%+v: %q, want %q", e, got, want)
		}
	}
	atTheFloor := timeline(t, strings.Replace(onExhale, "rate: 8", "rate: 6", 1))
	i := find(t, atTheFloor, func(s pacer.Step) bool { return s.Move == pacer.Glide })
	m := showing(atTheFloor.GoOnEased(i), 2, 0)
	m.width, m.height = 80, 24
	if view := ansi.Strip(m.View().Content); !strings.Contains(view, "Gentler: smaller, and fewer") || strings.Contains(view, "lower,") {
		t.Errorf("the screen says:\n%s", view)
	}
}

func TestClosingAdvice(t *testing.T) {
	for a := pacer.Pain; a <= pacer.Left; a++ {
		text := scene.ClosingAdvice(sessions.Symptoms, a)
		if !strings.Contains(text, "our clinician") {
			t.Errorf("%v: %q leaves the clinician out", a, text)
		}
		if ends := strings.Contains(text, "for today"); ends == (a == pacer.Breathing || a == pacer.WarningSign) {
			t.Errorf("%v: %q", a, text)
		}
	}
	for a, texts := range map[pacer.Answer][]string{
		pacer.Breathing:   {"Sit down", "breathe as you like", "Chest pain", "emergency services"},
		pacer.WarningSign: {"Sit down.", "sight, speech or swallowing, or a faint: call emergency services now.", "No neck glide until your clinician has cleared it."},
	} {
		for _, text := range texts {
			if got := scene.ClosingAdvice(sessions.Symptoms, a); !strings.Contains(got, text) {
				t.Errorf("%v: %q lacks %q", a, got, text)
			}
		}
	}
	for _, o := range []sessions.Outcome{sessions.Completed, sessions.EndedEarly} {
		if got := scene.ClosingAdvice(o, pacer.Settled); got != "Let the arm hang and loosen it." {
			t.Errorf("%v: %q", o, got)
		}
	}
}

func TestNobodyIsToldToHoldABreath(t *testing.T) {
	for _, file := range []string{onExhale, perRep, neck} {
		var out bytes.Buffer
		tl := timeline(t, file)
		tell(NewLines(&out), tl, 0, len(tl.Steps), 0)
		if found := regexp.MustCompile(`(?i)pause|hold|stop`).FindString(out.String()); found != "" {
			t.Errorf("a line says %q:\n%s", found, out.String())
		}
		for i, s := range tl.Steps {
			if s.Breath != pacer.BreathPause {
				continue
			}
			p := (&scene.State{Steering: scene.Keyboard, Status: scene.Running, Timeline: tl, Step: i}).Page()
			if p.Word != "" || p.Seconds != "" {
				t.Errorf("step %d: the turn of the breath is shown as %q %q", i, p.Word, p.Seconds)
			}
		}
	}
}

type writer func([]byte) (int, error)

func (w writer) Write(b []byte) (int, error) { return w(b) }

// A line is one Write, so it is out when Follow returns.
func TestALineIsOneWrite(t *testing.T) {
	tl := timeline(t, onExhale)
	writes := 0
	l := NewLines(writer(func(b []byte) (int, error) {
		writes++
		if !bytes.HasSuffix(b, []byte("\n")) || bytes.Count(b, []byte("\n")) != 1 {
			t.Errorf("wrote %q", b)
		}
		return 0, errors.New("the reader is gone")
	}))
	tell(l, tl, 0, 3, 0)
	if writes != 4 {
		t.Errorf("%d writes for a beginning and 3 steps", writes)
	}
}
