package sessions

import (
	"fmt"
	"io"
	"regexp"
	"strconv"
	"strings"
	"time"

	"gopkg.in/yaml.v3"

	"glidepace/sessions/glides"
)

// Limits that more than one field has.
const (
	minRate, maxRate   = 3, 30                                    // breaths per minute
	minPhase, maxPhase = 500 * time.Millisecond, 15 * time.Second // of an inhale or an exhale
	maxSetUp           = 5 * time.Minute
)

// maxPause is the longest pause: it stays under a second, so that it never
// becomes a hold.
const maxPause = time.Second - 1

// Parse reads a session file; file is its name for messages.
//
// The error is an *Error that holds every problem of the file. If nothing that
// timing depends on (breath, lead_in, set_up, exercises) is among them, the
// session is returned beside the error, so that what it adds up to can be
// checked too and all be reported in one go, with Join; it is not to be paced.
// Else the session is nil.
func Parse(file string, r io.Reader) (*Session, error) {
	src, err := io.ReadAll(io.LimitReader(r, maxSize+1)) // one more tells that there is more
	if err != nil {
		return nil, &Error{file, []Problem{{Place{1, 1}, fmt.Sprintf("cannot be read: %v", err)}}}
	}
	rd := &reader{places: map[string]Place{}, unreadable: map[*yaml.Node]bool{}}
	s := rd.session(src)
	if rd.unsure {
		s = nil
	}
	return s, newError(file, rd.problems)
}

// session reads everything; nil where there is no top-level mapping to read.
func (r *reader) session(src []byte) *Session {
	text, ok := r.cleanText(src)
	if !ok {
		return nil
	}
	root := r.document(text)
	if root == nil {
		return nil
	}
	if root.Kind != yaml.MappingNode || r.unreadable[root] {
		r.report(placeOf(root), "", `a session file is a mapping: keys with values, beginning with "glidepace: 1"`)
		return nil
	}
	top := r.open("", Place{1, 1}, root)
	defer top.close()
	top.need("glidepace: 1", "title: First week", "breath: {rate: 8}", "exercises: [{glide: median-wrist, side: right, reps: 10}]")

	s := &Session{places: r.places}
	var version int
	top.whole("glidepace", 1, 1, &version)
	top.text("title", 1, 80, &s.Title)
	s.Patient = top.patient()
	s.Dose = top.dose()
	s.Breath = top.breath()
	if m := top.mapping("lead_in", "{breaths: 9}"); m != nil {
		m.need("breaths: 9")
		m.whole("breaths", 0, 60, &s.LeadIn)
		m.close()
	}
	setUp := 15 * time.Second
	top.duration("set_up", 0, maxSetUp, &setUp)
	for _, m := range top.list("exercises", 1, 12) {
		s.Exercises = append(s.Exercises, m.exercise(setUp))
	}
	s.Ease = top.ease()
	s.Progress = top.progress(s.Goal())
	s.Sounds = top.sounds()
	return s
}

var patientForm = regexp.MustCompile(`^[A-Za-z0-9-]{1,16}$`)

func (m *mapping) patient() string {
	const allowed = "a code of 1 to 16 letters A-Z a-z, digits and -, never a name"
	v, ok := m.scalar("patient", allowed)
	if ok && !patientForm.MatchString(v) {
		m.refuse("patient", quote(v)+" is not a code", allowed)
		return ""
	}
	return v
}

func (top *mapping) dose() *Dose {
	m := top.mapping("dose", "{per_day: 2, weeks: 6}")
	if m == nil {
		return nil
	}
	defer m.close()
	m.need("per_day: 2")
	d := &Dose{}
	d.PerDayMin, d.PerDayMax = m.perDay()
	var weeks int
	m.whole("weeks", 1, 26, &weeks)
	m.whole("days", 1, 182, &d.Days)
	if m.has("weeks") && m.has("days") {
		m.refuse("days", "stands beside weeks", "one of the two")
	} else if weeks > 0 {
		d.Days = 7 * weeks
	}
	d.Start = m.date("start")
	return d
}

var perDayForm = regexp.MustCompile(`^([1-5])(?:-([1-5]))?$`)

// perDay reads how often a day: a number, or a range such as "1-3".
func (m *mapping) perDay() (least, most int) {
	const allowed = `1 to 5, or a range such as "1-3"`
	v, ok := m.scalar("per_day", allowed)
	if !ok {
		return 0, 0
	}
	if p := perDayForm.FindStringSubmatch(v); p != nil {
		least, _ = strconv.Atoi(p[1])
		if most = least; p[2] != "" {
			most, _ = strconv.Atoi(p[2])
		}
	}
	if least == 0 || least > most {
		m.refuse("per_day", quote(v)+" is not a number of sessions a day", allowed)
	}
	return least, most
}

func (m *mapping) date(key string) Date {
	const allowed = "a day from 2000-01-01 to 2099-12-31, written like 2026-12-01"
	v, ok := m.scalar(key, allowed)
	if !ok {
		return Date{}
	}
	d, err := ParseDate(v)
	if err != nil || !strings.HasPrefix(v, "20") {
		m.refuse(key, quote(v)+" is not such a day", allowed)
		return Date{}
	}
	return d
}

func (top *mapping) breath() Breath {
	b := Breath{Pause: 500 * time.Millisecond}
	m := top.mapping("breath", "{rate: 8}")
	if m == nil {
		return b
	}
	defer m.close()
	if m.word("match", "exhale-on-glide", "breath-per-rep") == "breath-per-rep" {
		b.Match = BreathPerRep
	}
	m.number("rate", minRate, maxRate, "breaths per minute", &b.Rate)
	b.Ratio = m.ratio()
	m.duration("inhale", minPhase, maxPhase, &b.Inhale)
	m.duration("exhale", minPhase, maxPhase, &b.Exhale)
	m.duration("pause", 0, maxPause, &b.Pause)
	b.Taper = m.taper()

	if !m.has("inhale") && !m.has("exhale") {
		m.need("rate: 8")
		return b
	}
	m.need("inhale: 3s", "exhale: 4s")
	b.Ratio = Ratio{}
	for _, key := range []string{"rate", "ratio", "taper"} {
		if m.has(key) {
			m.refuse(key, "stands beside inhale and exhale", "rate with ratio and taper, or inhale and exhale")
		}
	}
	return b
}

// ratio reads the ratio of inhale to exhale; 1:1 where there is none. Each
// part is 0.1 to 10: far more than the limits of a phase leave room for.
func (m *mapping) ratio() Ratio {
	const allowed = `inhale to exhale, each 0.1 to 10, such as "1:1.5"`
	v, ok := m.scalar("ratio", allowed)
	if !ok {
		return Ratio{1, 1}
	}
	var parts []float64
	for p := range strings.SplitSeq(v, ":") {
		if f, err := strconv.ParseFloat(p, 64); err == nil && numberForm.MatchString(p) && f >= 0.1 && f <= 10 {
			parts = append(parts, f)
		}
	}
	if len(parts) != 2 || strings.Count(v, ":") != 1 {
		m.refuse("ratio", quote(v)+" is not such a ratio", allowed)
		return Ratio{1, 1}
	}
	return Ratio{parts[0], parts[1]}
}

func (breath *mapping) taper() *Taper {
	m := breath.mapping("taper", "{from: 12, breaths: 9}")
	if m == nil {
		return nil
	}
	defer m.close()
	m.need("from: 12", "breaths: 9")
	t := &Taper{}
	m.number("from", minRate, maxRate, "breaths per minute", &t.From)
	m.whole("breaths", 1, 200, &t.Breaths)
	return t
}

func (m *mapping) exercise(setUp time.Duration) Exercise {
	defer m.close()
	e := Exercise{Sets: 1, Rest: 30 * time.Second, SetUp: setUp}
	e.Glide, e.Own = m.glide()
	m.need("side: right", "reps: 10")
	switch m.word("side", "left", "right", "both") {
	case "left":
		e.Side = Left
	case "right":
		e.Side = Right
	case "both":
		e.Side = Both
	}
	m.whole("sets", 1, 10, &e.Sets)
	m.whole("reps", 1, 30, &e.Reps)
	m.duration("rest", 0, 10*time.Minute, &e.Rest)
	m.duration("set_up", 0, maxSetUp, &e.SetUp)
	e.BothEnds = e.Glide.BothEnds
	if at := m.word("pause_at", "end", "both"); at != "" {
		e.BothEnds = at == "both"
	}
	m.text("note", 0, 500, &e.Note)
	return e
}

// glide reads which glide: one of the library, or one that the file describes.
func (m *mapping) glide() (g glides.Glide, own bool) {
	if name := m.word("glide", glides.Names()...); name != "" {
		g, _ = glides.Find(name)
	}
	o := m.mapping("own", `{name: "…", start: "…", out: "…", back: "…"}`)
	switch {
	case !m.has("glide") && !m.has("own"):
		m.need("glide: median-wrist")
	case m.has("glide") && m.has("own"):
		m.refuse("glide", "stands beside own", "one of the two")
	}
	if o == nil {
		return g, false
	}
	defer o.close()
	g = glides.Glide{Cues: glides.Cues{Start: "start position", End: "end position", Out: "move out", Back: "move back"}}
	o.need("name: Elbow slide", "start: elbow bent", "out: the elbow straightens", "back: the elbow bends")
	o.text("name", 1, 40, &g.Name)
	o.text("start", 1, 300, &g.Start)
	o.text("out", 1, 300, &g.Out)
	o.text("back", 1, 300, &g.Back)
	g.Title = g.Name
	return g, true
}
