package handout

import (
	"fmt"
	"html/template"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/cautions"
	"glidepace/sessions/glides"
	"glidepace/sessions/glides/figure"
)

// glide is one movement as the handout describes it.
type glide struct {
	glides.Glide
	Heading  string // with its side
	Pictures []drawing
	// PostureText is the posture in a paragraph, "" for a file's own glide.
	PostureText string
	Range       string // how far it goes, "" for the whole way
	Pause       string
	Notes       []string // of the clinician
	Cautions    []string // its own; those of the neck have a list
}

// drawing is a picture of a moment of the movement, as SVG.
type drawing struct {
	Name    string
	Picture template.HTML
}

// drawingsOf draws an exercise at the start position and where the movement out ends;
// and where the movement back ends, if that is another place.
func drawingsOf(e sessions.Exercise) []drawing {
	f := e.Glide.Figure
	if f == nil {
		return nil
	}
	start, suffix := 0.0, ""
	if f.Back != nil {
		start = 0.5
	}
	if e.Side == sessions.Both {
		suffix = ", right side"
	}
	draw := func(name string, moment float64, arrow bool) drawing {
		return drawing{name + suffix, template.HTML(figure.Draw(*f, figure.Options{
			Moment: moment, Share: e.Range.Share(), Left: e.Side == sessions.Left, Arrow: arrow, Labels: true, Title: name}))}
	}
	list := []drawing{draw("Start", start, false), draw("Out", 1, true)}
	if f.Back != nil {
		list = append(list, draw("Back", 0, false))
	}
	return list
}

// glidesOf returns the movements of a session, each described once for all the
// exercises that do it alike.
func glidesOf(s *sessions.Session) (list []glide) {
	for _, e := range s.Exercises {
		g := glide{Glide: e.Glide, Heading: e.Glide.Title + ", " + sideWords(e.Side), Pause: pauseWords(s.Breath.Pause, e.BothEnds)}
		if far := e.Range.HowFar(); far != "" {
			g.Range = "Go only " + far + "."
		}
		i := slices.IndexFunc(list, func(old glide) bool {
			return old.Heading == g.Heading && old.Range == g.Range && old.Pause == g.Pause && old.Start == g.Start && old.Out == g.Out && old.Back == g.Back
		})
		if i < 0 {
			for _, c := range cautions.OfGlide(e.Glide) {
				if c != cautions.NeckGlide() {
					g.Cautions = append(g.Cautions, c)
				}
			}
			g.Pictures, g.PostureText = drawingsOf(e), postureText(e.Glide, list)
			i, list = len(list), append(list, g)
		}
		if e.Note != "" && !slices.Contains(list[i].Notes, e.Note) {
			list[i].Notes = append(list[i].Notes, e.Note)
		}
	}
	return list
}

// postureText says how to sit or stand, once for all movements that share it.
func postureText(g glides.Glide, before []glide) string {
	texts := g.Posture.Texts()
	if texts == nil {
		return ""
	}
	for _, old := range before {
		if old.Posture == g.Posture {
			return "As in “" + old.Title + "”."
		}
	}
	return upper(texts[0]) + ". " + strings.Join(texts[1:], " ")
}

func sideWords(s sessions.Side) string {
	if s == sessions.Both {
		return "right side, then left side"
	}
	return s.String() + " side"
}

func pauseWords(pause time.Duration, bothEnds bool) string {
	where := "where the movement out ends"
	if bothEnds {
		where = "at both ends of the movement"
	}
	if pause == 0 {
		return "None: turn at once " + where + ". Never hold or stretch."
	}
	return fmt.Sprintf("Shorter than a second (%s s), %s. Never hold or stretch.", number(pause.Seconds()), where)
}

// orderOf says what to do, one thing after another.
func orderOf(s *sessions.Session) (list []string) {
	place := "Sit or stand tall, the shoulders low."
	if slices.ContainsFunc(s.Exercises, sessions.Exercise.Seated) {
		place = "Sit tall, the shoulders low."
	}
	list = append(list, place)
	if s.LeadIn > 0 {
		list = append(list, fmt.Sprintf("Arms in your lap: %s, soft and easy.", sessions.Count(s.LeadIn, "breath")))
	}
	several := len(glidesOf(s)) > 1
	for _, e := range s.Exercises {
		text := upper(sideWords(e.Side))
		if several {
			text += ", " + e.Glide.Title
		}
		text += ": take the start position, then do "
		rest := " Then let"
		if e.Sets > 1 {
			text += sessions.Count(e.Sets, "set") + " of "
			rest = " After each set, let"
		}
		first := e.Reps
		if s.Progress != nil {
			first = max(1, e.Reps*s.Progress.RepsFrom/s.Goal())
		}
		text += sessions.Count(first, "repetition")
		if e.Side == sessions.Both {
			text += " on each side"
		}
		if first < e.Reps {
			text += fmt.Sprintf(" at first; later up to %d, see “Working up”", e.Reps)
		}
		text += "."
		if e.Rest > 0 {
			text += rest + " the arm hang and loosen it for " + seconds(e.Rest.Seconds()) + "."
		}
		list = append(list, text)
	}
	return list
}

// breathWords says how the breath goes, and how the movement goes with it.
func breathWords(t *pacer.Timeline) (list []string) {
	b := t.Session().Breath
	tempo := t.Tempo(t.Session().Exercises[0], b.Match)
	list = append(list, fmt.Sprintf("About %s breaths a minute: in for about %s, out for about %s. Softly, not deeply; never hold it.",
		number(tempo.Rate), roughly(tempo.Inhale), roughly(tempo.Exhale)))
	if taper := b.Taper; taper != nil {
		list = append(list, fmt.Sprintf("It begins at %s a minute, and reaches this rate after %s.", number(taper.From), sessions.Count(taper.Breaths, "breath")))
	}
	if b.Match == sessions.BreathPerRep {
		return append(list, "Move out and back while you breathe out; the next time, out and back while you breathe in. Let the breath flow all the time.")
	}
	return append(list, "Breathe in while the arm rests, out while it moves out, and in again while it comes back.")
}

// number writes a figure with two decimals at most.
func number(f float64) string {
	return strconv.FormatFloat(math.Round(f*100)/100, 'f', -1, 64)
}

// seconds writes a length of time in words: in seconds up to a minute and a half,
// then in minutes.
func seconds(s float64) string {
	n := int(math.Round(s))
	if n > 90 || n == 60 {
		text := sessions.Count(n/60, "minute")
		if n%60 > 0 {
			text += " " + sessions.Count(n%60, "second")
		}
		return text
	}
	return sessions.Count(n, "second")
}

// roughly writes a length of time to the half second.
func roughly(s float64) string {
	half := math.Round(2*s) / 2
	if half == 1 {
		return "1 second"
	}
	return number(half) + " seconds"
}

func upper(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
