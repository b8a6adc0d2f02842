package sessions

import (
	"io"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"glidepace/sessions/fields"
	"glidepace/sessions/glides"
)

const (
	minRate, maxRate   = 3, 30                                    // breaths per minute
	minPhase, maxPhase = 500 * time.Millisecond, 15 * time.Second // inhale or exhale
	maxPause           = time.Second - 1                          // so that it never becomes a hold
	maxSetUp           = 5 * time.Minute
)

var (
	timingFields = regexp.MustCompile(`^(breath|posture|lead_in|set_up|exercises)\b`)
	textFields   = regexp.MustCompile(`^exercises\[\d+\]\.(own|note)\b`)
)

// timing reports whether the timing of a session depends on the field at path.
func timing(path string) bool {
	return timingFields.MatchString(path) && !textFields.MatchString(path)
}

// Parse reads a session file; file is its name for messages.
//
// The error is an *Error with every problem of the file. Where the timing does not
// depend on what is wrong, there is a session beside the error, so that what it adds up
// to can be checked and reported as well (see Join). It must not be paced.
func Parse(file string, r io.Reader) (*Session, error) {
	var s *Session
	found, err := fields.Read(file, r, fields.SessionFile, func(top *fields.Mapping) { s = session(top) })
	if s == nil || slices.ContainsFunc(found.Wrong, timing) {
		return nil, err
	}
	s.places = found.Places
	return s, err
}

// nearMisses are keys that clinicians may expect, and what stands for them.
var nearMisses = map[string]string{
	"pause":         noHold,
	"hold":          noHold,
	"repetitions":   `did you mean "reps"?`,
	"count":         `did you mean "reps"?`,
	"times":         `did you mean "reps", or "per_day" in "dose"?`,
	"frequency":     `did you mean "per_day" in "dose", or "rate" in "breath"?`,
	"duration":      `did you mean "weeks" or "days" in "dose"?`,
	"days_per_week": "sessions are meant for every day",
	"arm":           `did you mean "side"?`,
	"hand":          `did you mean "side"?`,
	"name":          `a patient is never named; did you mean "title", or "patient" for the clinic's own code?`,
}

const noHold = `no movement is held: the pause, under a second, stands in "breath"; "pause_at" of an exercise says at which ends`

func session(top *fields.Mapping) *Session {
	top.Need("glidepace: 1", "title: First week", "breath: {rate: 8}", "exercises: [{glide: median-wrist, side: right, reps: 10}]")

	top.Remark(nearMisses)
	s := &Session{}
	var version int
	top.Whole("glidepace", 1, 1, &version)
	top.Text("title", 1, 80, &s.Title)
	s.Patient = patient(top)
	s.Dose = dose(top)
	s.Breath = breath(top)
	if m := top.Mapping("lead_in", "{breaths: 9}"); m != nil {
		m.Need("breaths: 9")
		m.Whole("breaths", 0, 60, &s.LeadIn)
		m.Close()
	}
	s.Posture = Posture(max(0, slices.Index(Postures(), top.Word("posture", Postures()...))))
	setUp := time.Duration(-1)
	top.Duration("set_up", 0, maxSetUp, &setUp)
	for _, m := range top.List("exercises", "reps: 10", 1, 12) {
		s.Exercises = append(s.Exercises, exercise(m, setUp))
	}
	s.Ease = ease(top)
	s.Progress = progress(top, s.Goal())
	s.Sounds = sounds(top)
	return s
}

var patientForm = regexp.MustCompile(`^[A-Za-z0-9-]{1,16}$`)

func patient(m *fields.Mapping) string {
	const allowed = "a code of 1 to 16 letters A-Z a-z, digits and -, never a name"
	v, ok := m.Scalar("patient", allowed)
	if ok && !patientForm.MatchString(v) {
		m.Refuse("patient", fields.Quote(v)+" is not a code", allowed)
		return ""
	}
	return v
}

func dose(top *fields.Mapping) *Dose {
	m := top.Mapping("dose", "{per_day: 2, weeks: 6}")
	if m == nil {
		return nil
	}
	defer m.Close()
	m.Need("per_day: 2")
	d := &Dose{}
	d.PerDayMin, d.PerDayMax = perDay(m)
	var weeks int
	m.Whole("weeks", 1, 26, &weeks)
	m.Whole("days", 1, 182, &d.Days)
	if m.Has("weeks") && m.Has("days") {
		m.Refuse("days", "is given together with weeks", "one of the two")
	} else if weeks > 0 {
		d.Days = 7 * weeks
	}
	d.Start = date(m, "start")
	d.Gap = DefaultGap
	m.Duration("gap", 0, 12*time.Hour, &d.Gap)
	return d
}

var perDayForm = regexp.MustCompile(`^([1-5])(?:-([1-5]))?$`)

// perDay reads how often a day: a number, or a range such as "1-3".
func perDay(m *fields.Mapping) (least, most int) {
	const allowed = `1 to 5, or a range such as "1-3"`
	v, ok := m.Scalar("per_day", allowed)
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
		m.Refuse("per_day", fields.Quote(v)+" is not a number of sessions a day", allowed)
	}
	return least, most
}

func date(m *fields.Mapping, key string) Date {
	const allowed = "a day from 2000-01-01 to 2099-12-31, written like 2026-12-01"
	v, ok := m.Scalar(key, allowed)
	if !ok {
		return Date{}
	}
	d, err := ParseDate(v)
	if err != nil || !strings.HasPrefix(v, "20") {
		m.Refuse(key, fields.Quote(v)+" is not a valid day", allowed)
		return Date{}
	}
	return d
}

func breath(top *fields.Mapping) Breath {
	b := Breath{Pause: 500 * time.Millisecond}
	m := top.Mapping("breath", "{rate: 8}")
	if m == nil {
		return b
	}
	defer m.Close()
	b.Match = Match(max(0, slices.Index(matchNames[:], m.Word("match", matchNames[:]...))))
	m.Number("rate", minRate, maxRate, "breaths per minute", &b.Rate)
	b.Ratio = ratio(m)
	m.Duration("inhale", minPhase, maxPhase, &b.Inhale)
	m.Duration("exhale", minPhase, maxPhase, &b.Exhale)
	m.Duration("pause", 0, maxPause, &b.Pause)
	b.Taper = taper(m)

	if !m.Has("inhale") && !m.Has("exhale") {
		m.Need("rate: 8")
		return b
	}
	m.Need("inhale: 3s", "exhale: 4s")
	b.Ratio = Ratio{}
	for _, key := range []string{"rate", "ratio", "taper"} {
		if m.Has(key) {
			m.Refuse(key, "is given together with inhale and exhale", "rate with ratio and taper, or inhale and exhale")
		}
	}
	return b
}

// ratio reads the ratio of inhale to exhale; 1:1 where there is none.
func ratio(m *fields.Mapping) Ratio {
	const allowed = `inhale to exhale, each 0.1 to 10, such as "1:1.5"`
	v, ok := m.Scalar("ratio", allowed)
	if !ok {
		return Ratio{1, 1}
	}
	var parts []float64
	for p := range strings.SplitSeq(v, ":") {
		if f, ok := fields.ParseNumber(p); ok && f >= 0.1 && f <= 10 {
			parts = append(parts, f)
		}
	}
	if len(parts) != 2 || strings.Count(v, ":") != 1 {
		m.Refuse("ratio", fields.Quote(v)+" is not a valid ratio", allowed)
		return Ratio{1, 1}
	}
	return Ratio{parts[0], parts[1]}
}

func taper(breath *fields.Mapping) *Taper {
	m := breath.Mapping("taper", "{from: 12, breaths: 9}")
	if m == nil {
		return nil
	}
	defer m.Close()
	m.Need("from: 12", "breaths: 9")
	t := &Taper{}
	m.Number("from", minRate, maxRate, "breaths per minute", &t.From)
	m.Whole("breaths", 1, 200, &t.Breaths)
	return t
}

func exercise(m *fields.Mapping, setUp time.Duration) Exercise {
	defer m.Close()
	e := Exercise{Sets: 1, Rest: 30 * time.Second, SetUp: setUp}
	e.Glide, e.Own = glide(m)
	m.Need("side: right", "reps: 10")
	e.Side = Side(max(0, slices.Index(sideNames[:], m.Word("side", "left", "right", "both"))))
	m.Whole("sets", 1, 10, &e.Sets)
	m.Whole("reps", 1, 30, &e.Reps)
	m.Duration("rest", 0, 10*time.Minute, &e.Rest)
	m.Duration("set_up", 0, maxSetUp, &e.SetUp)
	e.Range = Range(max(0, slices.Index(rangeNames[:], m.Word("range", rangeNames[:]...))))
	e.BothEnds = e.Glide.BothEnds
	if at := m.Word("pause_at", "end", "both"); at != "" {
		e.BothEnds = at == "both"
	}
	m.Text("note", 0, 500, &e.Note)
	return e
}

// glide reads a glide: one of the library, or one that the file describes.
func glide(m *fields.Mapping) (g glides.Glide, own bool) {
	if name := m.Word("glide", glides.Names()...); name != "" {
		g, _ = glides.Find(name)
	}
	o := m.Mapping("own", `{name: "…", start: "…", out: "…", back: "…"}`)
	switch {
	case !m.Has("glide") && !m.Has("own"):
		m.Need("glide: median-wrist")
	case m.Has("glide") && m.Has("own"):
		m.Refuse("glide", "is given together with own", "one of the two")
	}
	if o == nil {
		return g, false
	}
	defer o.Close()
	g = glides.Glide{Cues: glides.Cues{Start: "start position", End: "end position", Out: "move out", Back: "move back"}}
	o.Need("name: Elbow slide", "start: elbow bent", "out: the elbow straightens", "back: the elbow bends")
	o.Text("name", 1, 40, &g.Name)
	o.Text("start", 1, 300, &g.Start)
	o.Text("out", 1, 300, &g.Out)
	o.Text("back", 1, 300, &g.Back)
	o.Text("caution", 1, 500, &g.Caution)
	g.Neck = o.Word("neck", "false", "true") == "true"
	g.Figure = drawing(o)
	g.Title = g.Name
	return g, true
}
