package voice

import (
	"testing"

	"glidepace/pacer"
)

// Each way in which symptoms end a session is told, unless the patient has ended it and is
// asked.
func TestTold(t *testing.T) {
	w := english(t)
	clips := map[string]Clip{}
	for i, name := range wordNames {
		clips[name] = make(Clip, i+1)
	}
	v := New(w, clips)
	for words, e := range map[string]pacer.Event{
		"Stopped. Let the arm hang, and breathe as you like. Go on only when it has settled.": {Kind: pacer.Stopped},
		"Is it back to where it was? Without an answer the session ends.":                     {Kind: pacer.StillThere},
		"Stop for today. Tell your clinician.":                                                {Kind: pacer.Answered, Answer: pacer.Pain},
		"Let the arm hang. That is enough for today.":                                         {Kind: pacer.Answered, Answer: pacer.TooOften},
		"Sit down, and breathe as you like. Chest pain, or breathlessness that stays: call emergency services.": {
			Kind: pacer.Answered, Answer: pacer.Breathing},
		"Sit down. Trouble with sight, speech or swallowing, or a faint: call emergency services now.": {
			Kind: pacer.Answered, Answer: pacer.WarningSign},
	} {
		if got := len(v.Told(e)); got == 0 || w.Words[wordNames[got-1]] != words {
			t.Errorf("%v %v: not told as %q", e.Kind, e.Answer, words)
		}
	}
	for a := pacer.NoStop; a <= pacer.Left; a++ {
		told := v.Told(pacer.Event{Kind: pacer.Answered, Answer: a}) != nil
		if goesOn := a == pacer.NoStop || a == pacer.Settled || a == pacer.OnlyPause; told == (goesOn || a == pacer.Left) {
			t.Errorf("%v: told is %v", a, told)
		}
	}
	if v.Told(pacer.Event{Kind: pacer.Paused}) != nil {
		t.Error("a pause is told")
	}
}
