package sounds

import (
	"sort"

	"glidepace/pacer"
)

// score is a timeline as sounds: what begins and ends at which frame. Tones are
// in order and do not overlap; nor do ticks, nor words. It never changes.
type score struct {
	tones  []tone
	ticks  []int // their first frames
	speech speech
	frames int // the tail included
}

func newScore(t *pacer.Timeline, settings Settings) *score {
	s := &score{}
	begin := 0
	for i, step := range t.Steps {
		end := frame(t.Duration)
		if i+1 < len(t.Steps) {
			end = frame(t.Steps[i+1].Start)
		}
		switch {
		case t.FlowsOn(i) && step.Breath != pacer.BreathPause:
			s.tones[len(s.tones)-1].end = end
		case step.Breath == pacer.Inhale:
			s.tones = append(s.tones, newTone(&inhaling, begin, end))
		case step.Breath == pacer.Exhale:
			s.tones = append(s.tones, newTone(&exhaling, begin, end))
		case step.Move == pacer.Shake:
			s.tones = append(s.tones, newEndMark(begin, end))
		}
		switch step.Move {
		case pacer.Glide:
			s.ticks = append(s.ticks, begin)
		case pacer.Return:
			s.ticks = append(s.ticks, begin, begin+tickAgain)
		}
		begin = end
	}
	s.frames = begin + tailFrames
	s.tones = append(s.tones, newEndMark(begin, s.frames))
	if !settings.Parts.Tones {
		s.tones = nil
	}
	if !settings.Parts.Ticks {
		s.ticks = nil
	}
	if settings.Parts.Voice && settings.Voice != nil {
		s.speech = newSpeech(settings.Voice.Schedule(t, Tail.Seconds()).Said)
	}
	return s
}

// frame returns the frame at s seconds after the start of a timeline.
func frame(s float64) int { return pacer.Frame(s, int(SampleRate)) }

// fill writes the frames from at on over all of block. Each depends on its
// frame number alone.
func (s *score) fill(block []float64, at int) {
	clear(block)
	end := at + len(block)
	first := sort.Search(len(s.tones), func(i int) bool { return s.tones[i].end > at })
	for i := first; i < len(s.tones) && s.tones[i].start < end; i++ {
		s.tones[i].write(block, at)
	}
	s.speech.duck(block, at)
	first = sort.Search(len(s.ticks), func(i int) bool { return s.ticks[i]+tickLength > at })
	for i := first; i < len(s.ticks) && s.ticks[i] < end; i++ {
		addTick(block, at, s.ticks[i])
	}
	s.speech.add(block, at)
}
