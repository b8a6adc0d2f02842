//go:build js && wasm

package main

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strconv"
	"syscall/js"
	"time"

	"glidepace/devices/patient"
	"glidepace/sessions"
	"glidepace/sessions/cautions"
	"glidepace/sessions/diary"
)

// sameTap is how long after a screen has changed a tap still belongs to the one
// before: a finger that taps twice answers one question.
const sameTap = 600 * time.Millisecond

// person is the patient before the page.
type person struct {
	said string      // as HTML, on the screen that is shown
	keys chan string // what was tapped
	lost string      // the session that could not be kept, as a file; "" for none
}

var _ patient.Person = (*person)(nil)

func (p *person) There() bool      { return true }
func (p *person) Say(text string)  { p.said += paragraph(text) }
func (p *person) Urge(text string) { p.said += question(text) }
func (p *person) Warn(text string) { p.said += `<p class="note">` + escape(text) + "</p>" }

// ask shows what was said and the answers, and waits for one of them, however long:
// somebody may look for their glasses.
func (p *person) ask(ctx context.Context, answers string) (string, error) {
	setHTML("said", p.said)
	setHTML("answers", answers)
	show("talk")
	js.Global().Call("scrollTo", 0, 0)
	focus("said")
	defer func() { p.said = "" }()
	shown := time.Now()
	for {
		select {
		case key := <-p.keys:
			if time.Since(shown) >= sameTap {
				return key, nil
			}
		case <-ctx.Done():
			return "", ctx.Err()
		}
	}
}

func (p *person) Choose(ctx context.Context, q patient.Question) (rune, error) {
	if q.Text != "" {
		p.said += question(q.Text)
	} else {
		p.said += question("Ready?") + paragraph("Put the phone where you see and hear it. Keep this page in front and the phone unlocked until the session is over.")
	}
	answers, careful := "", slices.Contains(q.Choices, patient.Choice{Key: '\n'}) // only a clear yes counts
	for i, c := range q.Choices {
		class := ""
		if q.Text == "" && i > 0 || careful && c.Key == 'y' { // the other is what one is here for
			class = "quiet"
		}
		if c.Words != "" {
			answers += button(strconv.Itoa(int(c.Key)), c.Words, class)
		}
	}
	key, err := p.ask(ctx, answers)
	if err != nil {
		return 0, err
	}
	n, err := strconv.Atoi(key)
	return rune(n), err
}

func (p *person) Brief(ctx context.Context, b patient.Briefing, known bool) error {
	if !known {
		if err := p.Read(ctx, b.First()); err != nil {
			return err
		}
		if err := p.Read(ctx, lists(cautions.When(b.Neck()))); err != nil {
			return err
		}
		for _, e := range b.Exercises() { // at leisure: while the session runs there is less room and time
			p.said += movementPicture(e)
			if err := p.Read(ctx, patient.Movement(e)); err != nil {
				return err
			}
		}
		return nil
	}
	versions, always := b.Daily()
	return p.Read(ctx, append(versions[0], always...))
}

// lists is lists of cautions as a text.
func lists(all []cautions.List) (t patient.Text) {
	for _, l := range all {
		t = append(t, patient.Block{Heading: l.Title, Items: l.Items})
	}
	return t
}

func (p *person) Read(ctx context.Context, t patient.Text) error {
	p.said += blocks(t)
	_, err := p.ask(ctx, button("next", "next", ""))
	return err
}

func (p *person) Rate(ctx context.Context) (r sessions.Ratings, err error) {
	for again := true; again && err == nil; {
		if r.Tingling, _, err = p.rating(ctx, "Tingling or numbness now?", ""); err != nil {
			break
		}
		given := "Tingling or numbness: skipped."
		if r.Tingling != nil {
			given = fmt.Sprintf("Tingling or numbness: %d.", *r.Tingling)
		}
		r.Pain, again, err = p.rating(ctx, "Pain now?", given)
	}
	return r, err
}

// rating asks for one rating; nil where it is skipped. What was given before it may be
// taken back.
func (p *person) rating(ctx context.Context, what, before string) (rating *int, back bool, err error) {
	p.said += question(what) + paragraph("0 is none, 10 is the worst.")
	answers := `<div class="scale">`
	for n := range 11 {
		answers += button(strconv.Itoa(n), strconv.Itoa(n), "")
	}
	answers += "</div>" + button("skip", "skip", "quiet")
	if before != "" {
		p.Say(before)
		answers += button("back", "change that", "quiet")
	}
	key, err := p.ask(ctx, answers)
	if n, wrong := strconv.Atoi(key); wrong == nil && err == nil {
		return &n, false, nil
	}
	return nil, key == "back", err
}

// Afterwards does nothing: a tap that was meant for the session comes within sameTap.
func (p *person) Afterwards(context.Context) {}

func (p *person) Lost(e *diary.UnwrittenError) {
	p.Warn("This phone could not keep the session: " + e.Err.Error() + ". Give it to your clinic now. Or write this down:")
	p.said += "<pre>" + escape(e.Session.String()) + "</pre>"
	if text, err := json.Marshal(e.Session); err == nil {
		p.lost = string(text) + "\n"
	}
}
