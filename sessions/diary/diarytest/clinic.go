// Package diarytest invents the diaries of a clinic, for tests, benchmarks and
// pictures. The same seed gives the same diary.
package diarytest

import (
	"fmt"
	"iter"
	"math/rand/v2"
	"strings"
	"time"

	"glidepace/sessions"
	"glidepace/sessions/diary"
)

// Clinic says what is invented.
type Clinic struct {
	Seed     uint64
	Patients int           // DEMO-1 and so on; 0 for as many as Sessions takes
	Sessions int           // no more than these; 0 for the courses of all Patients
	Until    sessions.Date // the day on which all this is looked at; nothing is later
}

// A patient's course lasts six weeks. The first patient began three weeks before
// Until, and each of the others two days before the last.
const (
	courseDays   = 42
	firstBegan   = 21
	daysBetween  = 2
	longest      = 9000 // days ago; after so many others begin again from today on
	dosePerDay   = 2
	goal         = 10
	repsFrom     = 5
	repetition   = 7 * time.Second
	beforeFirst  = 30 * time.Second
	offset       = 3600 // seconds from UTC
	firstLater   = 1e12 // see the number of events that are said later
	morningStart = 7*60 + 30
	eveningStart = 18*60 + 15
)

// kind is how a patient takes to the exercises.
type kind struct {
	name             string
	glide            string
	source           string
	morning, evening float64 // probability that the session is done
	trend            float64 // of tingling, a day
	stops            float64 // probability of a stop in a session
	bothWays         bool    // every other session in the other way of matching
	noClock          bool    // done on a box
	untilDay         int     // the last day on which anything is done; 0 for the whole course
	warning          bool    // the last session is ended by a warning sign
}

var kinds = []kind{
	{name: "does well", glide: "median-wrist", source: diary.Paced, morning: 0.95, evening: 0.9, trend: -0.1, stops: 0.005},
	{name: "misses evenings", glide: "median-elbow", source: diary.Paced, morning: 0.9, evening: 0.4, trend: -0.03, stops: 0.02},
	{name: "gets worse", glide: "ulnar-elbow", source: diary.Paced, morning: 0.9, evening: 0.8, trend: 0.08, stops: 0.15},
	{name: "has a box", glide: "radial-wrist", source: diary.Paced, morning: 0.9, evening: 0.85, trend: -0.05, stops: 0.02, noClock: true},
	{name: "ticks paper", glide: "median-fingers", source: diary.FromPaper, morning: 0.9, evening: 0.8, trend: -0.05},
	{name: "tries both ways", glide: "median-slider", source: diary.Paced, morning: 0.9, evening: 0.85, trend: -0.06, stops: 0.03, bothWays: true},
	{name: "has a warning sign", glide: "median-neck", source: diary.Paced, morning: 0.9, evening: 0.8, trend: -0.02, stops: 0.02, untilDay: 18, warning: true},
	{name: "gives up", glide: "ulnar-slider", source: diary.Paced, morning: 0.7, evening: 0.5, trend: 0, stops: 0.02, untilDay: 16},
}

func kindOf(patient int) kind { return kinds[(patient-1)%len(kinds)] }

// File returns the session file of a patient, counted from 1.
func (c Clinic) File(patient int) string {
	return fmt.Sprintf(`# Invented example.
glidepace: 1
title: "Invented: %[1]s"
patient: DEMO-%d
dose: {per_day: %d, days: %d, start: %s}
breath: {rate: 8, ratio: "1:1.5"}
lead_in: {breaths: 3}
exercises:
  - {glide: %[1]s, side: right, reps: %[6]d}
progress: {reps_from: %[7]d, add: 1, after: 3}
`, kindOf(patient).glide, patient, dosePerDay, courseDays, c.began(patient), goal, repsFrom)
}

// began returns the first day of a patient's course.
func (c Clinic) began(patient int) sessions.Date {
	return c.Until.AddDays(-firstBegan - daysBetween*(patient-1)%longest)
}

// All returns the sessions with their events, patient by patient.
func (c Clinic) All() iter.Seq[diary.Session] {
	return func(yield func(diary.Session) bool) {
		made := 0
		for n := 1; c.Patients == 0 || n <= c.Patients; n++ {
			for s := range c.newCourse(n).sessions() {
				if !yield(s) {
					return
				}
				if made++; made == c.Sessions {
					return
				}
			}
		}
	}
}

// course is what a patient has come to.
type course struct {
	kind
	random   *rand.Rand
	session  diary.Session // what is the same for all
	began    sessions.Date
	days     int // of the course until now
	tingling float64
	reps     int
	run      int // comfortable sessions since the last step
	place    int64
}

func (c Clinic) newCourse(patient int) *course {
	file, err := sessions.Parse("invented.yaml", strings.NewReader(c.File(patient)))
	if err != nil {
		panic(err)
	}
	k := kindOf(patient)
	o := &course{kind: k, random: rand.New(rand.NewPCG(c.Seed, uint64(patient))), began: c.began(patient),
		days: min(courseDays, 1+c.Until.DaysSince(c.began(patient))), reps: repsFrom}
	o.tingling = 3 + 3*o.random.Float64()
	if k.untilDay > 0 {
		o.days = min(o.days, k.untilDay)
	}
	o.session = diary.Session{
		Title: file.Title, Patient: file.Patient, Prescription: file.Hash(), Source: k.source,
		RateStart: 8, RateEnd: 8, Match: "exhale-on-glide", Sound: "off",
	}
	if k.source != diary.FromPaper {
		o.session.Diary = o.id()
	}
	return o
}

// id returns an id such as diaries have.
func (o *course) id() string {
	const letters = "abcdefghjkmnpqrstvwxyz0123456789" // 22 of them may come first
	id := []byte{letters[o.random.IntN(22)]}
	for range 9 {
		id = append(id, letters[o.random.IntN(len(letters))])
	}
	return string(id)
}

func (o *course) chance(p float64) bool { return o.random.Float64() < p }

func (o *course) sessions() iter.Seq[diary.Session] {
	return func(yield func(diary.Session) bool) {
		for day := range o.days {
			for slot, likely := range []float64{o.morning, o.evening} {
				last := o.warning && day == o.days-1 && slot == dosePerDay-1
				if (last || o.chance(likely)) && !yield(o.next(day, slot, last)) {
					return
				}
			}
			o.tingling = min(9, max(0, o.tingling+o.trend))
		}
	}
}

// midnight returns the moment at which a day begins where the patients live.
func midnight(d sessions.Date) time.Time {
	t, err := time.ParseInLocation(time.DateOnly, d.String(), time.FixedZone("", offset))
	if err != nil {
		panic(err)
	}
	return t
}

// next returns the session of a day, which may be ended by a warning sign.
func (o *course) next(day, slot int, warning bool) diary.Session {
	s := o.session
	s.ID = o.id()
	minute := []int{morningStart, eveningStart}[slot] + o.random.IntN(90)
	s.Started = midnight(o.began.AddDays(day)).Add(time.Duration(minute) * time.Minute)
	s.Date = s.Started.Format(time.DateOnly)
	if s.Source != diary.FromPaper {
		o.place++
		s.Place = o.place
	}
	if o.bothWays && slot == 1 {
		s.Match = "breath-per-rep"
	}
	s.Planned = diary.Amount{Sets: 1, Repetitions: o.reps, Breaths: o.reps + 3}
	s.Plan = fmt.Sprintf(`{"level":{"repetitions":%d,"rate_factor":1},"rules":{"goal":%d,"reps_from":%d,"add":1,"after":3,"days":2,`+
		`"fewer_reps":2,"slower":0.2,"settle_within_ns":120000000000},"match":%q,"neck":%t,"dose":{"per_day_min":%d,"per_day_max":%[6]d,"days":%d,"start":%q}}`,
		o.reps, goal, repsFrom, s.Match, o.glide == "median-neck", dosePerDay, courseDays, o.began)
	o.happen(&s, day, slot, warning)
	return s
}
