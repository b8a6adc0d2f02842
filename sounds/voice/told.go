package voice

import "glidepace/pacer"

// Told returns the clip that says what to do after e, where a session stands still for
// symptoms or has ended with them; nil where nothing is to be said.
func (v *Voice) Told(e pacer.Event) Clip {
	switch e.Kind {
	case pacer.Stopped:
		return v.Clip(stopped)
	case pacer.StillThere:
		return v.Clip(isItBack)
	case pacer.Answered:
		return v.Clip(ends[e.Answer])
	}
	return nil
}

// ends are the cues that say what to do at the end. Whoever has ended it themselves
// after a stop is asked what it was.
var ends = map[pacer.Answer]string{
	pacer.Pain: stopNow, pacer.Still: stopNow, pacer.NoAnswer: stopNow, pacer.TooOften: enough,
	pacer.Breathing: sitDown, pacer.WarningSign: neckOver,
}
