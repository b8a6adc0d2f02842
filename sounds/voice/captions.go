package voice

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"strings"

	"glidepace/pacer"
)

// WriteCaptions writes what is to be done in t as captions in WebVTT (W3C):
// breath and movement of each step, with the number of the repetition and how
// many there are. A brief pause has no caption: the one before it stays. tail
// is how many seconds the last one stands after the end of the timeline.
func (w *Words) WriteCaptions(out io.Writer, t *pacer.Timeline, tail float64) error {
	l := newLayout(w, t)
	b := bufio.NewWriter(out)
	fmt.Fprintf(b, "WEBVTT\n\nNOTE %s\n", vttText(t.Title))
	for i := 0; i < len(t.Steps); {
		next := i + 1
		for next < len(t.Steps) && l.caption(next) == "" {
			next++
		}
		end := t.Duration
		if next < len(t.Steps) {
			end = t.Steps[next].Start
		}
		writeVTT(b, t.Steps[i].Start, end, l.caption(i))
		i = next
	}
	writeVTT(b, t.Duration, t.Duration+tail, w.Words[done])
	return b.Flush()
}

// caption returns the caption of step i, "" for a pause.
func (l *layout) caption(i int) string {
	s, w := l.t.Steps[i], l.words
	if s.Breath == pacer.BreathPause || s.Move == pacer.MovePause {
		return ""
	}
	var parts []string
	for _, c := range l.breath(i) {
		parts = append(parts, c.Text)
	}
	if s.Exercise == 0 {
		return sentences(append(parts, w.Words[lap])...)
	}
	g := l.glides[s.Exercise-1]
	number := fmt.Sprintf("%d/%d", s.Rep, l.t.RepsInSet(s))
	switch s.Move {
	case pacer.SetUp:
		parts = []string{w.side(s.Side).Text}
		for _, c := range g.start {
			parts = append(parts, c.Text)
		}
	case pacer.Shake:
		parts = []string{w.Words[rest]}
	case pacer.Rest:
		parts = append(parts, g.ready.Text)
		if side := l.newSide(i); side != nil {
			parts = append([]string{w.side(s.Side).Text}, parts...)
		}
	case pacer.Glide:
		parts = append([]string{number}, append(parts, l.movement(i, g.out, g.outLong))...)
	case pacer.Return:
		parts = append([]string{number}, append(parts, l.movement(i, g.back, g.backLong))...)
	}
	return sentences(parts...)
}

// movement returns the words of a movement: of the file's own glide those that
// the file has for it, as its cues are the same for every glide.
func (l *layout) movement(i int, short, long Cue) string {
	if l.t.ExerciseOf(l.t.Steps[i]).Own {
		return long.Text
	}
	return short.Text
}

// sentences joins texts, each ended by a mark.
func sentences(texts ...string) string {
	var b strings.Builder
	for i, text := range texts {
		if i > 0 {
			b.WriteByte(' ')
		}
		b.WriteString(text)
		if text != "" && !strings.ContainsAny(text[len(text)-1:], ".!?") {
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
