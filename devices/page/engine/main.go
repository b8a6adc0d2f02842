//go:build js && wasm

// Command engine paces a session in a web page. It is the same program as at the
// terminal, with the browser for a screen, a loudspeaker and a diary.
package main

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"strconv"
	"strings"
	"syscall/js"
	"time"

	"glidepace/devices/patient"
	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/cautions"
	"glidepace/sessions/diary"
	"glidepace/sessions/history"
	"glidepace/sessions/progress"
	"glidepace/sounds"
)

// app is the page.
type app struct {
	person       person
	prescribed   *pacer.Timeline
	diary        string // its name: the patient code or, without one, the title
	sound        *speaker
	settings     sounds.Settings
	asPrescribed bool
	cleared      bool                 // the patient says that the clinician has cleared the neck glide
	offset       time.Duration        // how late the sound is heard, as with wireless headphones
	commands     chan<- pacer.Command // of the session that runs; else nil
	stood        time.Time            // when the session was last stopped for symptoms
}

// config is what the page was written with: see package page.
type config struct {
	Session      string         `json:"session"`
	Parts        sessions.Parts `json:"parts"`
	Volume       int            `json:"volume"`
	AsPrescribed bool           `json:"as_prescribed"`
	Clips        [][]byte       `json:"clips"`
	Voice        map[string]int `json:"voice"`
}

func main() {
	a := &app{person: person{keys: make(chan string)}}
	document.Call("addEventListener", "click", js.FuncOf(a.tapped))
	if err := a.load(); err != nil {
		a.person.Warn("This page is damaged. Ask your clinic for a new one. (" + err.Error() + ")")
		a.person.ask(context.Background(), "")
		return
	}
	for !onlyHere(a.diary) {
		a.person.Say("This session is open in another window of this browser. Close that one first.")
		a.person.ask(context.Background(), button("again", "it is closed", ""))
	}
	for {
		a.home(context.Background())
	}
}

// stopTap is how long after a stop a tap still belongs to it. What ends the session
// then lies under the finger that has tapped Stop, and a shaking one taps twice.
const stopTap = 1200 * time.Millisecond

// tapped passes on what was tapped. The sound must begin in here: a browser lets
// nothing sound that nobody asked for.
func (a *app) tapped(_ js.Value, args []js.Value) any {
	target := args[0].Get("target").Call("closest", "[data-key]")
	if !target.Truthy() {
		return nil
	}
	key := target.Get("dataset").Get("key").String()
	if a.sound == nil {
		a.sound = newSpeaker()
	}
	a.sound.resume()
	if command, is := strings.CutPrefix(key, "command-"); is {
		if n, err := strconv.Atoi(command); err == nil && a.commands != nil && time.Since(a.stood) >= stopTap {
			go func(to chan<- pacer.Command) { to <- pacer.Command(n) }(a.commands)
		}
		return nil
	}
	select {
	case a.person.keys <- key:
	default: // nothing was asked
	}
	return nil
}

// load reads what the page brings.
func (a *app) load() error {
	var c config
	if err := json.Unmarshal([]byte(document.Call("getElementById", "config").Get("textContent").String()), &c); err != nil {
		return err
	}
	s, err := sessions.Parse("session.yaml", strings.NewReader(c.Session))
	if err != nil {
		return err
	}
	if a.prescribed, err = pacer.New(s); err != nil {
		return err
	}
	a.diary = strings.ToUpper(s.Patient) // k-204 is K-204
	if a.diary == "" {
		a.diary = s.Title
	}
	a.asPrescribed = c.AsPrescribed
	a.settings = sounds.Settings{Parts: c.Parts, Volume: c.Volume, Voice: loadVoice(s, c.Clips, c.Voice)}
	a.offset = offsetKept()
	return nil
}

// home offers what can be done, and does it.
func (a *app) home(ctx context.Context) {
	p := &a.person
	s := a.prescribed.Session()
	past, err := history.Read(diary.Options{}, a.diary, s, sessions.DateOf(time.Now()))
	if err != nil {
		p.Warn("This browser keeps nothing (" + err.Error() + "). You can do the session; give it to your clinic at its end.")
	}
	head, class := cmp.Or(history.Standing(s.Dose, past.Day, past.DoneToday), "Your session is ready")+".", "main"
	for _, h := range progress.Gate(s, past.Entries, past.Clock(time.Now())) {
		switch h.Kind {
		case progress.RestToday, progress.NoneDue: // no invitation to one more
			head, class = "No session now.", "quiet"
		}
		if words := h.Message(past.Clock(time.Now())); words != "" {
			p.Warn(words)
		}
	}
	p.said = question(head) + p.said
	p.Say(past.Week())
	p.Say("Nothing leaves this phone unless you give it to your clinic.")
	answers := button("begin", "begin today's session", class)
	if len(past.Entries) > 0 {
		answers += button("give", "give my diary to my clinic", "")
	}
	answers += button("cautions", "when to stop, and whom to call", "quiet") + button("settings", "settings", "quiet")
	key, err := p.ask(ctx, answers)
	switch key {
	case "begin":
		a.session(ctx)
	case "give":
		a.give(ctx)
	case "cautions":
		when, all := cautions.When(a.prescribed.Neck()), cautions.Everything(a.prescribed.Neck())
		p.Read(ctx, lists(append(when, all[:len(all)-len(when)]...))) // whom to call comes first
	case "settings":
		a.settle(ctx)
	}
}

var steering = patient.Steering{
	Brief: "The large button stops at once. Pause, enough and end are above it.",
	Full:  "The large button at the bottom stops at once, for tingling, pain or anything that worries you. Above it: pause, which goes on again; enough for this set; and end the session.",
	Neck:  "Dizzy or faint, or trouble with sight, speech or swallowing: press the button that says so. It ends the session.",
}

// session holds today's session, from its questions to its last words.
func (a *app) session(ctx context.Context) {
	p := &a.person
	s := a.prescribed.Session()
	talk := &patient.Talk{Person: p, Diary: a.diary, WithCure: func(err error) error { return err },
		ThenCleared: "Then go to settings and say so."}
	talk.Cleared = a.cleared
	a.cleared = false
	if err := a.begin(ctx, talk, s); err != nil && err != patient.ErrNotBegun {
		p.Warn(err.Error())
	}
	answers := button("home", "close", "main")
	if p.lost != "" {
		answers = button("give", "give this session to my clinic", "main") + button("home", "close", "")
	}
	if key, _ := p.ask(ctx, answers); key == "give" {
		a.handOver(p.lost)
		p.ask(ctx, button("home", "close", "main"))
	}
	p.lost = ""
}

func (a *app) begin(ctx context.Context, talk *patient.Talk, s *sessions.Session) error {
	now := time.Now()
	past, err := history.Read(diary.Options{}, a.diary, s, sessions.DateOf(now))
	if err != nil {
		past.Day = sessions.DateOf(now)
		talk.Without = append(talk.Without, "This browser keeps nothing. Give the session to your clinic at its end.")
	}
	pass, past, err := talk.Gate(ctx, s, past, now)
	if err != nil {
		return err
	}
	b, err := patient.NewBriefing(a.prescribed, past, patient.Wish{AsPrescribed: a.asPrescribed, NoNeck: pass.NoNeck})
	if err != nil {
		return err
	}
	b.Keys = steering
	if err := talk.Tell(ctx, b, past.Done > 0); err != nil {
		return err
	}
	before, err := talk.RateBefore(ctx)
	if err != nil {
		return err
	}
	if err := talk.Agree(ctx, b); err != nil {
		return err
	}
	entry := past.Dated(history.NewSession(b.Timeline, time.Now(), s.Hash(), history.PlanOf(s, b.Level, ""), pass.Extra))
	entry.Before, entry.Cleared, entry.Source, entry.Sound = before, pass.Cleared, diary.OnPage, "browser"
	record := history.NewWriter(diary.Options{}, a.diary, b.Timeline, entry, func(error) {})
	result := a.pace(b.Timeline, record)
	talk.Close(ctx, b, result, false, record, &entry)
	return nil
}

// give hands the diary to the clinic as one small file.
func (a *app) give(ctx context.Context) {
	p := &a.person
	d, err := diary.OpenExisting(a.diary)
	if err != nil {
		p.Warn(err.Error())
	} else {
		defer d.Close()
		var text strings.Builder
		lines := json.NewEncoder(&text)
		for s, err := range d.EachWithEvents(diary.Filter{}) {
			if err = cmp.Or(err, lines.Encode(s)); err != nil {
				p.Warn(err.Error())
			}
		}
		a.handOver(text.String())
	}
	p.ask(ctx, button("home", "back", "main"))
}

// handOver hands a file of sessions to the phone, and says so.
func (a *app) handOver(text string) {
	if name := "glidepace-" + fileName(a.diary) + ".jsonl"; hand(name, text) {
		a.person.Say("Choose how to send the file to your clinic.")
	} else {
		a.person.Say("The file " + name + " is among your downloads. Your clinic does not have it yet: send it to them, or bring the phone to your appointment.")
	}
}

// settle changes what a phone needs to know.
func (a *app) settle(ctx context.Context) {
	p := &a.person
	p.said += "<h2>Settings</h2>"
	p.Say(fmt.Sprintf("Wireless headphones sound late. If the picture is ahead of the sound, add to the delay. It is %d milliseconds now.", a.offset.Milliseconds()))
	answers := button("later", "50 ms more", "") + button("earlier", "50 ms less", "")
	if a.prescribed.Neck() {
		answers += button("cleared", "my clinician has cleared the neck glide", "")
	}
	answers += button("forget", "forget everything on this phone", "quiet") + button("home", "back", "main")
	key, _ := p.ask(ctx, answers)
	switch key {
	case "later":
		a.keepOffset(min(a.offset+50*time.Millisecond, 2*time.Second))
	case "earlier":
		a.keepOffset(max(a.offset-50*time.Millisecond, 0))
	case "cleared":
		p.said += question("Has your clinician told you that you may do the neck glide again?")
		if key, _ := p.ask(ctx, button("no", "no", "main")+button("yes", "yes, my clinician told me", "quiet")); key != "yes" {
			return
		}
		a.cleared = true
		p.Say("The session that you begin now has the neck glide again, and the diary says that your clinician has cleared it.")
		p.ask(ctx, button("home", "back", "main"))
		return
	case "forget":
		p.Say("This removes your diary from this phone. What you have not given to your clinic is lost. The page then knows of no stop, and of no neck glide that has to wait: ask your clinician before you begin again.")
		if key, _ := p.ask(ctx, button("keep", "keep it", "main")+button("forget", "forget everything", "quiet")); key == "forget" {
			if err := diary.Erase(a.diary); err != nil {
				p.Warn(err.Error())
			} else {
				p.Say("Nothing of it is on this phone any more.")
			}
			p.ask(ctx, button("home", "back", "main"))
		}
		return
	default:
		return
	}
	a.settle(ctx)
}
