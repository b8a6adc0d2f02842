package voice

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"glidepace/sessions"
	"glidepace/sessions/glides"
)

// Cue is one thing to say.
type Cue struct {
	Name string `json:"cue"`  // such as "breathe-in": lower-case letters, digits and hyphens; also that of a recording
	Text string `json:"text"` // what to say
}

// longer returns the name of c, or of the cue that c is a shorter way to say.
func (c Cue) longer() string { return strings.TrimSuffix(c.Name, short) }

// Caution reports whether c says when to stop.
func (c Cue) Caution() bool { return slices.Contains(cautions, c.longer()) }

// The words that every language has. They are the names of their cues.
const (
	takePlace      = "take-place"
	standTall      = "stand-tall" // the reminder of one's place
	sitTall        = "sit-tall"   // where one is to sit
	lap            = "lap"
	softly         = "breathe-softly"
	breatheIn      = "breathe-in"
	breatheOut     = "breathe-out"
	stopIf         = "stop-if"
	neckStop       = "neck-stop" // for a glide that moves the head
	neckShort      = "dizzy-stop"
	rightSide      = "right-side"
	leftSide       = "left-side"
	changeSide     = "change-side"
	nextOne        = "next-exercise"
	rangeHalf      = "range-half"
	rangeMost      = "range-most"
	lastRep        = "last-repetition"
	halfDone       = "half-way"
	shoulder       = "shoulder-low"
	breathFlow     = "breath-flows"
	gentlerSlower  = "gentler"
	gentlerFewer   = "gentler-fewer"
	gentlerSmaller = "gentler-smaller"
	notAsFar       = "not-as-far"
	rest           = "rest"
	backAgain      = "back-to-start"
	done           = "done"

	// While a session stands still for symptoms, and when it has ended with them.
	stopped  = "stopped"
	isItBack = "is-it-back"
	stopNow  = "stop-for-today"
	enough   = "enough-for-today"
	sitDown  = "sit-down"
	neckOver = "sit-down-neck"

	// For a glide that the session file describes itself.
	ownReady = "start-position"
	ownOut   = "move-out"
	ownBack  = "move-back"
)

// short ends the name of a cue that says another in a shorter way.
const short = "-short"

var wordNames = []string{
	takePlace, standTall, sitTall, lap, softly, breatheIn, breatheIn + short, breatheOut, breatheOut + short, stopIf, neckStop, neckShort,
	rightSide, leftSide, changeSide, nextOne, rangeHalf, rangeHalf + short, rangeMost, rangeMost + short, lastRep, halfDone, shoulder, breathFlow,
	gentlerSlower, gentlerFewer, gentlerSmaller, notAsFar, notAsFar + short, rest, rest + short, backAgain, done, done + short,
	stopped, isItBack, stopNow, enough, sitDown, neckOver, ownReady, ownOut, ownBack,
}

// Cautions are said once a session, and how far to move once a set: where there
// is first time for it.
var (
	cautions = []string{stopIf, neckStop, neckShort}
	howFar   = []string{rangeHalf, rangeMost, notAsFar}
)

const mostReps = 30 // in a set; sessions refuses more

// Cues returns each cue that may be said in a session of s, whatever happens in
// it, in the order of a session.
func (w *Language) Cues(s *sessions.Session) []Cue {
	return w.cues(s, func(name string) bool {
		used, only := onlyWith[strings.TrimSuffix(name, short)]
		return !only || slices.ContainsFunc(s.Exercises, used)
	})
}

// onlyWith are the words that a session has for the sake of some exercises alone.
var onlyWith = map[string]func(sessions.Exercise) bool{
	rangeHalf: func(e sessions.Exercise) bool { return e.Range == sessions.RangeHalf },
	rangeMost: func(e sessions.Exercise) bool { return e.Range == sessions.RangeMost },
	ownReady:  func(e sessions.Exercise) bool { return e.Own },
	neckStop:  func(e sessions.Exercise) bool { return e.Glide.Neck },
	neckShort: func(e sessions.Exercise) bool { return e.Glide.Neck },
	neckOver:  func(e sessions.Exercise) bool { return e.Glide.Neck },
}

// cues returns the words that are chosen, and then the cues of numbers and glides.
func (w *Language) cues(s *sessions.Session, chosen func(name string) bool) []Cue {
	var all []Cue
	for _, name := range wordNames {
		if chosen(name) {
			all = append(all, w.cue(name))
		}
	}
	for n := range s.Goal() {
		all = append(all, w.count(n+1))
	}
	for i := range s.Exercises {
		g := w.glide(s, i)
		for _, c := range slices.Concat(g.posture, g.start, g.ownMoves, []Cue{g.ready}, g.out, g.back) {
			if !slices.Contains(all, c) {
				all = append(all, c)
			}
		}
	}
	return all
}

// LibraryCues returns the names of all cues of the library's glides.
func (w *Language) LibraryCues() []string {
	s := &sessions.Session{}
	for _, name := range glides.Names() {
		g, _ := glides.Find(name)
		s.Exercises = append(s.Exercises, sessions.Exercise{Glide: g, Reps: mostReps})
	}
	var names []string
	for _, c := range w.cues(s, func(string) bool { return true }) {
		names = append(names, c.Name)
	}
	return names
}

func (w *Language) cue(name string) Cue { return Cue{name, w.Words[name]} }

// count returns the cue of a repetition's number, from 1.
func (w *Language) count(n int) Cue { return Cue{fmt.Sprintf("count-%d", n), w.Counts[n-1]} }

// glideCues are the cues of one glide.
type glideCues struct {
	posture, start []Cue // sentences
	ownMoves       []Cue // out and back in the file's words, if the glide is its own
	ready          Cue   // the start position in a few words
	out, back      []Cue // the movement in a few words, the longer way first
}

// glide returns the cues of the glide of exercise i of s.
func (w *Language) glide(s *sessions.Session, i int) glideCues {
	e := &s.Exercises[i]
	g, name := e.Glide, e.Glide.Name
	if e.Own {
		name = ownName(s, i)
	} else if own, ok := w.Glides[name]; ok {
		g = own
	} else if library, ok := glides.Find(name); ok {
		g = library // a session may show its short cues in longer words
	}
	sentences := func(part string, texts ...string) (cues []Cue) {
		for _, text := range texts {
			for _, s := range splitSentences(text) {
				cues = append(cues, Cue{fmt.Sprintf("%s-%s-%d", name, part, len(cues)+1), s})
			}
		}
		return cues
	}
	c := glideCues{start: sentences("start", g.Start)}
	if e.Own {
		c.ownMoves = []Cue{{name + "-out-long", g.Out}, {name + "-back-long", g.Back}}
		c.ready, c.out, c.back = w.cue(ownReady), []Cue{w.cue(ownOut)}, []Cue{w.cue(ownBack)}
		return c
	}
	if texts := g.Posture.Texts(); texts != nil {
		c.posture = append([]Cue{{name + "-position", upper(texts[0])}}, sentences("posture", texts[1:]...)...)
	}
	c.ready = Cue{name + "-ready", g.Cues.Start}
	c.out = []Cue{{name + "-out", g.Cues.Out}, {name + "-out" + short, w.Shorter[name].Out}}
	c.back = []Cue{{name + "-back", g.Cues.Back}, {name + "-back" + short, w.Shorter[name].Back}}
	return c
}

var notInName = regexp.MustCompile(`[^a-z0-9]+`)

// ownName returns how the names of the cues of exercise i begin, which has a
// glide of the file's own: with the glide's name, and with a number if another
// glide has that name.
func ownName(s *sessions.Session, i int) string {
	taken := map[string]glides.Glide{} // by name
	for k, e := range s.Exercises[:i+1] {
		if !e.Own {
			continue
		}
		base := strings.TrimRight("own-"+strings.Trim(notInName.ReplaceAllString(strings.ToLower(e.Glide.Name), "-"), "-"), "-")
		name := base
		for n := 2; ; n++ {
			g, ok := taken[name]
			if !ok || g.Start == e.Glide.Start && g.Out == e.Glide.Out && g.Back == e.Glide.Back {
				break
			}
			name = fmt.Sprintf("%s-%d", base, n)
		}
		taken[name] = e.Glide
		if k == i {
			return name
		}
	}
	return ""
}

// upper begins a text with a capital.
func upper(s string) string {
	first, n := utf8.DecodeRuneInString(s)
	return string(unicode.ToUpper(first)) + s[n:]
}

var sentenceEnd = regexp.MustCompile(`[.!?]\s+`)

// splitSentences cuts a text after each sentence.
func splitSentences(text string) (list []string) {
	for {
		text = strings.TrimSpace(text)
		at := sentenceEnd.FindStringIndex(text)
		if at == nil {
			break
		}
		list = append(list, text[:at[0]+1])
		text = text[at[1]:]
	}
	if text != "" {
		list = append(list, text)
	}
	return slices.DeleteFunc(list, func(s string) bool { return !strings.ContainsFunc(s, isWord) })
}

func isWord(r rune) bool { return unicode.IsLetter(r) || unicode.IsDigit(r) }
