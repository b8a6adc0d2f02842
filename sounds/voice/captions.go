package voice

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"glidepace/pacer"
)

const readWord = 0.3 // seconds to read a word of a caption: common practice, no source

// WriteCaptions writes captions of t in WebVTT (W3C): how to take one's place and
// the start position, sentence by sentence; then movement and breath of each
// step, with the number of the repetition and how many there are. In a brief
// pause the caption before it stays. The last one stands for tail seconds after
// the end of the timeline.
func (w *Language) WriteCaptions(out io.Writer, t *pacer.Timeline, tail float64) error {
	l := newLayout(w, t)
	b := bufio.NewWriter(out)
	fmt.Fprintf(b, "WEBVTT\n\nNOTE %s\n", vttText(t.Title))
	warned := map[Cue]bool{}
	var starts []float64
	var captions [][]string
	for i, s := range t.Steps {
		if texts := l.captions(i, warned); texts != nil {
			starts, captions = append(starts, s.Start), append(captions, texts)
		}
	}
	for k, texts := range captions {
		start, end := starts[k], append(starts, t.Duration)[k+1]
		words := len(strings.Fields(strings.Join(texts, " ")))
		if end-start < readWord*float64(words) { // too short to be read one by one
			texts = []string{strings.Join(texts, " ")}
		}
		for _, text := range texts { // each as long as it has words
			n := len(strings.Fields(text))
			stop := start + (end-start)*float64(n)/float64(words)
			writeVTT(b, start, stop, text)
			start, words = stop, words-n
		}
	}
	writeVTT(b, t.Duration, t.Duration+tail, w.Words[done])
	return b.Flush()
}

// captions returns the captions of step i, none for a pause. It does not repeat
// what was warned of.
func (l *layout) captions(i int, warned map[Cue]bool) []string {
	s := l.t.Steps[i]
	if s.Breath == pacer.BreathPause || s.Move == pacer.MovePause {
		return nil
	}
	one := func(cues ...[]Cue) []string { return []string{sentences(slices.Concat(cues...)...)} }
	var breath []Cue
	if b := l.breath(i); b != nil {
		breath = b[:1]
	}
	switch s.Move {
	case pacer.Posture:
		told, short, after := l.takingPlace(i)
		if told == nil {
			return one([]Cue{short}, after)
		}
		return each(append(told, after...))
	case pacer.SetUp:
		side, text := l.newSide(i), l.startText(i)
		for _, c := range l.cautions(i)[0] {
			if !warned[c] {
				text = append(text, c)
			}
			warned[c] = true
		}
		return append(one(side, text[:1]), each(text[1:])...)
	case pacer.Shake:
		return one([]Cue{l.language.cue(rest)})
	}
	if s.Exercise == 0 {
		if i == 0 { // it was not said before
			return one(breath, []Cue{l.language.cue(lap), l.language.cue(softly)})
		}
		return one(breath)
	}
	g := l.glides[s.Exercise-1]
	number := []Cue{{Text: fmt.Sprintf("%d/%d", s.Rep, l.t.RepsInSet(s))}}
	switch s.Move {
	case pacer.Glide:
		var far []Cue
		if l.t.Steps[i-1].Move == pacer.Rest {
			far = l.howFar(i)
		}
		return one(append(g.ownMoves, g.out...)[:1], far, number, breath)
	case pacer.Return:
		if g.ownMoves != nil {
			return one(g.ownMoves[1:], number, breath)
		}
		return one(g.back[:1], number, breath)
	}
	return one(l.newSide(i), []Cue{g.ready}, breath)
}

// each returns the texts of cues, each ended by a mark.
func each(cues []Cue) (texts []string) {
	for _, c := range cues {
		texts = append(texts, sentences(c))
	}
	return texts
}

// sentences joins the texts of cues, each ended by a mark.
func sentences(cues ...Cue) string {
	var b strings.Builder
	for i, c := range cues {
		if i > 0 {
			b.WriteByte(' ')
		}
		b.WriteString(c.Text)
		if c.Text != "" && !strings.ContainsAny(c.Text[len(c.Text)-1:], ".!?") {
			b.WriteByte('.')
		}
	}
	return b.String()
}

func writeVTT(w io.Writer, start, end float64, text string) {
	fmt.Fprintf(w, "\n%s --> %s\n%s\n", vttTime(start), vttTime(end), vttText(text))
}

// vttTime writes a time as hh:mm:ss.ttt.
func vttTime(seconds float64) string {
	ms := int64(math.Round(seconds * 1000))
	return fmt.Sprintf("%02d:%02d:%02d.%03d", ms/3600000, ms/60000%60, ms/1000%60, ms%1000)
}

var vttEscapes = strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;")

// vttText writes text so that none of it is read as markup or as a time.
func vttText(s string) string { return vttEscapes.Replace(s) }
