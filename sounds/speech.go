package sounds

import (
	"math"
	"sort"

	"glidepace/sounds/voice"
)

const (
	// duckedTo is the gain of the tones under words: 12 dB softer, so that
	// words and tones together are less than 0.3 LU louder than either.
	duckedTo = 0.251
	duckFall = 4800  // frames in which the tones grow softer before a word: 100 ms
	duckRise = 14400 // frames in which they come back after it: 300 ms
)

// speech are what is said, in order and apart from each other, and the spans in
// which the tones are under them.
type speech struct {
	said  []voice.Said
	ducks []stretch
}

// stretch goes from frame start until before frame end.
type stretch struct{ start, end int }

func newSpeech(said []voice.Said) speech {
	w := speech{said: said}
	for _, s := range said {
		last := len(w.ducks) - 1
		end := s.At + len(s.Clip)
		if last >= 0 && s.At-duckFall <= w.ducks[last].end+duckRise {
			w.ducks[last].end = end // the tones do not come up between two words
			continue
		}
		w.ducks = append(w.ducks, stretch{s.At, end})
	}
	return w
}

// duck makes the tones in block, whose first frame is at, softer under words.
func (w *speech) duck(block []float64, at int) {
	end := at + len(block)
	first := sort.Search(len(w.ducks), func(i int) bool { return w.ducks[i].end+duckRise > at })
	for _, d := range w.ducks[first:] {
		if d.start-duckFall >= end {
			return
		}
		for n := max(at, d.start-duckFall); n < min(end, d.end+duckRise); n++ {
			under := 1.0
			switch {
			case n < d.start:
				under = raisedCosine(n-d.start+duckFall, duckFall)
			case n >= d.end:
				under = raisedCosine(d.end+duckRise-n, duckRise)
			}
			block[n-at] *= 1 - (1-duckedTo)*under
		}
	}
}

// add adds the words that fall into block, whose first frame is at.
func (w *speech) add(block []float64, at int) {
	end := at + len(block)
	first := sort.Search(len(w.said), func(i int) bool { return w.said[i].At+len(w.said[i].Clip) > at })
	for _, s := range w.said[first:] {
		if s.At >= end {
			return
		}
		for n := max(at, s.At); n < min(end, s.At+len(s.Clip)); n++ {
			block[n-at] += float64(s.Clip[n-s.At]) / math.MaxInt16
		}
	}
}
