//go:build real

package page

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"glidepace/devices/patient"
	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/browsertest"
	"glidepace/sessions/diary"
	"glidepace/sessions/history"
	"glidepace/sounds"
	"glidepace/sounds/out"
)

// act is what a patient does: on the page with a button, at a terminal with a command
// or, once the session is over, with a key.
type act struct {
	inGlide int           // in the movement out of this repetition, the next time; 0 for after
	after   time.Duration // the act before
	button  string
	command pacer.Command
}

const neckSession = `glidepace: 1
title: Invented, neck
patient: DEMO-8
breath: {rate: 15}
posture: none
set_up: 3s
exercises: [{glide: median-neck, side: left, reps: 2}]
`

// The same acts have the same outcome and leave the same rows, on the page and in the
// program.
func TestPageStopsLikeTheProgram(t *testing.T) {
	stop := act{1, 0, "Stop", pacer.Stop}
	settled := act{0, 6 * time.Second, "It has settled", pacer.Stop}
	for name, c := range map[string]struct {
		session string
		acts    []act
		keys    string // after the session; on the page by their words
		outcome sessions.Outcome
	}{
		"settled":     {short, []act{stop, settled}, "", sessions.Completed},
		"pause":       {short, []act{stop, {0, 6 * time.Second, "It was only a pause", pacer.NoSymptoms}}, "", sessions.Completed},
		"pain":        {short, []act{stop, {0, time.Second, "Pain", pacer.SayPain}}, "", sessions.Symptoms},
		"breath":      {short, []act{stop, {0, time.Second, "Light-headed", pacer.SayBreath}}, "", sessions.Symptoms},
		"neck":        {neckSession, []act{{1, 0, "Dizzy", pacer.SayWarning}}, "", sessions.Symptoms},
		"still there": {short, []act{stop, {0, 12 * time.Second, "No: end", pacer.No}}, "t", sessions.Symptoms},
		"second stop": {short, []act{stop, settled, stop}, "x", sessions.EndedEarly},
		"enough":      {short, []act{{1, 0, "Enough", pacer.Enough}}, "", sessions.Completed},
		"ended":       {short, []act{{2, 0, "End", pacer.Quit}}, "", sessions.EndedEarly},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			program := make(chan diary.Session)
			go func() { program <- inProgram(t, c.session, c.acts, c.keys) }()
			page := onPage(t, c.session, c.acts, c.keys)
			want := <-program
			if want.Outcome != c.outcome {
				t.Errorf("the program ends it as %q, want %q", want.Outcome, c.outcome)
			}
			if got, want := rowsOf(page), rowsOf(want); !reflect.DeepEqual(got, want) {
				t.Errorf("the page keeps\n%s\nthe program\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
			}
			if page.Source != diary.OnPage {
				t.Errorf("marked as %q", page.Source)
			}
		})
	}
}

// rowsOf is what must be the same of a session: all but its times.
func rowsOf(s diary.Session) []string {
	list := []string{fmt.Sprintf("%s %s by %q, planned %v, done %v, %d stops, not in time %v, %s", s.Title, s.Outcome, s.EndedBy, s.Planned, s.Done, len(s.Stops), s.NotInTime, s.Prescription)}
	for _, e := range s.Events {
		var detail map[string]any
		if json.Unmarshal([]byte(e.Detail), &detail) == nil {
			delete(detail, "after_s")
			e.Detail = fmt.Sprint(detail)
		}
		list = append(list, fmt.Sprintf("%s %d %s %d %d %v %s", e.Kind, e.Exercise, e.Side, e.Set, e.Rep, e.Done, e.Detail))
	}
	return list
}

// answers is a patient who answers the questions after a session with keys, and
// rates nothing.
type answers struct {
	patient.Person
	keys string
}

func (a *answers) There() bool                                          { return true }
func (a *answers) Urge(string)                                          {}
func (a *answers) Say(string)                                           {}
func (a *answers) Afterwards(context.Context)                           {}
func (a *answers) Rate(context.Context) (r sessions.Ratings, err error) { return r, nil }
func (a *answers) Choose(context.Context, patient.Question) (rune, error) {
	key := rune(a.keys[0])
	a.keys = a.keys[1:]
	return key, nil
}

// inProgram runs a session as the program does, and returns what its diary has.
func inProgram(t *testing.T, session string, acts []act, keys string) diary.Session {
	s := parse(t, session)
	tl, err := pacer.New(s)
	if err != nil {
		t.Error(err)
		return diary.Session{}
	}
	path := filepath.Join(t.TempDir(), "diary.db")
	entry := history.NewSession(tl, time.Now(), s.Hash(), history.PlanOf(s, pacer.Prescribed(s), ""), false)
	record := history.NewWriter(diary.Options{}, path, tl, entry, func(err error) { t.Error(err) })
	commands := make(chan pacer.Command)
	glides := make(chan int, 100)
	c := pacer.Conductor{Sound: sounds.NewLive(new(out.Silent), sounds.Settings{}, 0), Followers: []pacer.Follower{record, follow(func(e pacer.Event) {
		if e.Kind == pacer.Stepped && e.Timeline.Steps[e.Step].Move == pacer.Glide {
			glides <- e.Timeline.Steps[e.Step].Rep
		}
	})}}
	go func() {
		for _, a := range acts {
			for a.inGlide > 0 && <-glides != a.inGlide {
			}
			time.Sleep(cmp.Or(a.after, 700*time.Millisecond))
			commands <- a.command
		}
	}()
	r := c.Run(context.Background(), tl, commands)
	talk := patient.Talk{Person: &answers{keys: keys}, Diary: path}
	talk.Close(context.Background(), patient.Briefing{Timeline: tl}, r, false, record, &entry)
	d, err := diary.OpenExisting(path)
	if err != nil {
		t.Error(err)
		return diary.Session{}
	}
	defer d.Close()
	for s, err := range d.EachWithEvents(diary.Filter{}) {
		if err != nil {
			t.Error(err)
		}
		return s
	}
	return diary.Session{}
}

type follow func(pacer.Event)

func (f follow) Follow(e pacer.Event) { f(e) }

// onPage does the same on the page, and returns what it gives to the clinic.
func onPage(t *testing.T, session string, acts []act, keys string) diary.Session {
	x := open(t, session, chromedp.Flag("mute-audio", true))
	x.begin()
	for _, a := range acts {
		if a.inGlide > 0 {
			x.until(fmt.Sprintf("repetition %d of", a.inGlide))
			x.until("EXHALE")
		}
		time.Sleep(a.after)
		x.tap(a.button)
	}
	for _, key := range keys {
		x.tap(map[rune]string{'t': "Tingling", 'x': "None of these"}[key])
	}
	list := x.given()
	if len(list) != 1 {
		t.Fatalf("%d sessions are given", len(list))
	}
	return list[0]
}

// given ends the questions after a session, and returns what the page gives to the
// clinic.
func (x phone) given() []diary.Session {
	x.t.Helper()
	for range 3 { // two ratings may come before
		if browsertest.Eval[string](x.Browser, `new Promise(done => { const look = () => {
			const found = [...document.querySelectorAll("#answers button")].map(b => b.textContent).find(t => t == "Skip" || t == "Close")
			found && document.getElementById("answers").offsetParent ? done(found) : setTimeout(look, 20) }; look() })`) == "Close" {
			break
		}
		x.tap("Skip")
	}
	x.tap("Close")
	return x.shared()
}

// shared returns what the page gives to the clinic.
func (x phone) shared() []diary.Session {
	x.t.Helper()
	return x.sharedBy("Give my diary")
}

// sharedBy returns what a button gives to the clinic.
func (x phone) sharedBy(button string) (list []diary.Session) {
	x.t.Helper()
	browsertest.Eval[bool](x.Browser, `(navigator.canShare = () => true, navigator.share = d => d.files[0].text().then(text => { globalThis.shared = text }), true)`)
	x.tap(button)
	x.until("Choose how to send")
	for line := range strings.Lines(browsertest.Eval[string](x.Browser, "shared")) {
		var s diary.Session
		if err := json.Unmarshal([]byte(line), &s); err != nil {
			x.t.Fatal(err)
		}
		list = append(list, s)
	}
	return list
}
