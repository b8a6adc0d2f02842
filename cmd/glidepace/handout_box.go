package main

import (
	"fmt"
	"slices"

	"glidepace/devices/box"
	"glidepace/devices/buzzer"
	"glidepace/devices/light"
	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/handout"
)

// boxPage is the page for whoever borrows a box with this session on it.
func boxPage(b *box.File, t *pacer.Timeline) *handout.Box {
	return &handout.Box{
		Name:  b.Name,
		Strap: strapPlace(t.Session()) + strapCare,
		Notes: []string{
			"The box cannot ask how you are. Start only when it is back to where it was before the last session. Strong today, 8 or more of 10: rest, and tell your clinician if it stays. After a session that ended for tingling or pain, do none until tomorrow.",
			"You may unplug the box at any moment. Not in the bath; not while driving. If a buzz does not stop, unplug it. When you plug the box in, the light can stay dark for up to a minute. If it stays on, or dark, for more than 3 seconds at any other time, unplug it, wait ten seconds and plug it in again.",
		},
		Tables: []handout.BoxTable{
			{Title: "The button", Sign: "When", Meaning: "What a press does", Rows: pressed(t)},
			{Title: "The light", Sign: "You see", Meaning: "It says", Rows: seen()},
			{Title: "The buzz", Sign: "You feel", Meaning: "It says", Rows: felt(t)},
		},
	}
}

// strapPlace says where the strap goes for the sides that a session works.
func strapPlace(s *sessions.Session) string {
	var right, left bool
	for _, e := range s.Exercises {
		right = right || e.Side != sessions.Left
		left = left || e.Side != sessions.Right
	}
	place := "On a thigh or at the waistband, because both arms are treated."
	if right != left {
		other := "left"
		if left {
			other = "right"
		}
		place = fmt.Sprintf("On the %s upper arm. If that arm is not well either: on a thigh or at the waistband.", other)
	}
	return place + " Never on the arm, wrist or hand being treated."
}

// strapCare is what else to know of the strap.
const strapCare = " Not over broken skin, not on the neck or chest. With an implanted pacemaker or stimulator, only if your clinician agrees. The motor lies flat on soft flesh, firm enough not to slide, loose enough for two fingers. Look at the skin after the first session."

// pressed says what a press of the button does.
func pressed(t *pacer.Timeline) [][2]string {
	tries := t.Session().Ease.Tries
	stops := "Any press stops it at once."
	if tries == 0 {
		stops = "Any press stops it at once, and the session has ended."
	}
	rows := [][2]string{
		{"The light says ready", "Starts today's session when you let go."},
		{"A session runs", stops},
	}
	if t.Neck() {
		rows = append(rows, [2]string{"In the neck glide", "The same, and the session has ended. From then on the box does no neck glide. Tell your clinician."})
	}
	if tries > 0 {
		rows = append(rows,
			[2]string{"Stopped", "For 5 seconds nothing. Then short: it has settled, go on gentler. Held for 2 seconds: only a pause. No press in time: the session ends."},
			[2]string{"Going on, gentler", fmt.Sprintf("You have 8 seconds to take the start position. In the first 3 of them a press does nothing. Stop number %d ends the session.", tries+1)})
	}
	return append(rows, [2]string{"The first minute after the end", "Short: no stronger than before. Held for 2 seconds: stronger."})
}

// seen says what the light says.
func seen() (rows [][2]string) {
	for _, s := range []struct {
		state light.State
		says  string
	}{
		{light.Ready, "Ready: a press starts."},
		{light.Running, "A session runs: any press stops it."},
		{light.Stopped, "Stopped. Let the arm hang."},
		{light.Asking, "How was it? A press is an answer."},
		{light.Trouble, "Something is wrong: call the clinic."},
	} {
		rows = append(rows, [2]string{s.state.Looks(), s.says})
	}
	return rows
}

// felt says what the buzzes say that this session can have.
func felt(t *pacer.Timeline) (rows [][2]string) {
	says := map[string]string{
		buzzer.Rest.Name:        "Take your place, get ready, or rest.",
		buzzer.Inhale.Name:      "Breathe in. If the arm is out, bring it back.",
		buzzer.Exhale.Name:      "Breathe out. The arms rest.",
		buzzer.OutExhale.Name:   "Breathe out, and move out.",
		buzzer.OutInhale.Name:   "Breathe in, and move out.",
		buzzer.Turn.Name:        "Move back, and let the breath flow. After the end: your answer was understood.",
		buzzer.Done.Name:        "The session is done.",
		buzzer.Stop.Name:        "Your stop was understood. Felt once more: the session has ended.",
		buzzer.CannotStart.Name: "No session now: today's are done, the last was too recent, or it is time to rest until tomorrow. None of these? Call the clinic.",
	}
	names := []string{buzzer.Turn.Name, buzzer.Stop.Name, buzzer.CannotStart.Name}
	turns := false
	for i := range len(t.Steps) + 1 {
		if p, ok := buzzer.Cue(t, i); ok {
			names = append(names, p.Name)
			turns = turns || p.Name == buzzer.Turn.Name
		}
	}
	if !turns {
		says[buzzer.Turn.Name] = "After the end: your answer was understood."
	}
	for _, p := range buzzer.Patterns() {
		if slices.Contains(names, p.Name) {
			rows = append(rows, [2]string{p.Feel, says[p.Name]})
		}
	}
	return rows
}
