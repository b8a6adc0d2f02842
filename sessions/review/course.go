package review

import (
	"glidepace/sessions"
)

// Course is what the sessions of one patient add up to. Shares are 0 to 1, times are
// seconds, rates are breaths a minute, ratings are 0 to 10.
type Course struct {
	Patient string        `json:"patient,omitempty"` // "" if the sessions have no code
	Title   string        `json:"title"`             // of the latest session
	From    sessions.Date `json:"from,omitzero"`     // first day that counts; zero if no session has a date
	To      sessions.Date `json:"to"`                // last day that counts
	Last    sessions.Date `json:"last,omitzero"`     // day of the latest session; zero if no session has a date

	// Sessions are those that count, in order: finished, from the first day on, with a
	// repetition or a stop. Those without a day are among them.
	Sessions []*Session `json:"-"`

	StandsOut []Pointer     `json:"stands_out"`          // the most serious first
	Counts    Counts        `json:"counts"`              // of all sessions
	Sources   []SourceCount `json:"sources"`             // in the order of the words
	Adherence *Adherence    `json:"adherence,omitempty"` // nil if the dose is not known
	Weeks     []Week        `json:"weeks"`               // that have a day in Days
	Days      []Day         `json:"days"`                // with a session, or something to do

	Stops    []StopAt   `json:"stops"` // in order
	Settling Settling   `json:"settling"`
	Mornings Ratio      `json:"worse_next_morning"` // worse until the next morning, of the sessions of which somebody said
	Stronger Ratio      `json:"stronger_after"`     // symptoms stronger than before, of the sessions where that was asked instead of ratings
	Tingling Rating     `json:"tingling"`
	Pain     Rating     `json:"pain"`
	Matches  []MatchUse `json:"matches,omitempty"` // if more than one was tried

	Pace  Pace   `json:"pace"`
	Level *Level `json:"level,omitempty"` // of the latest session; nil if not known
	Why   string `json:"why,omitempty"`   // why today's session is as it is; "" if not known

	began  sessions.Date // its first day, whatever the first that counts
	runs   bool          // it still asks for sessions, as far as is known
	latest *Session      // whose Level it is

	Unread []string `json:"unread,omitempty"` // what of the sessions cannot be read, a sentence each
	Notes  []Note   `json:"notes,omitempty"`  // the newest first
}

// Note is a note with the day of its session.
type Note struct {
	Date sessions.Date `json:"date,omitzero"` // zero if not known
	Text string        `json:"text"`
}

// Counts are numbers of sessions.
type Counts struct {
	Completed   int `json:"completed"`   // extras included
	EndedEarly  int `json:"ended_early"` // by the patient, with a repetition done
	Interrupted int `json:"interrupted"` // cut off, with a repetition done
	Stopped     int `json:"stopped"`     // ended for symptoms
	Extra       int `json:"extra"`       // beyond the dose: neither needed nor missed
	Left        int `json:"left"`        // before the first repetition; in no other count
	Running     int `json:"running"`     // in no other count
	NoDate      int `json:"no_date"`     // of those above: on no day, for the clock was not known
	WrongDay    int `json:"wrong_day"`   // of those above: on no day, for the clock was wrong
}

// SourceCount is how many sessions were done in one way.
type SourceCount struct {
	Source    Source `json:"source"`
	Sessions  int    `json:"sessions"`
	Completed int    `json:"completed"`
}

// Ratio is how much of something was done.
type Ratio struct {
	Done  int     `json:"done"`
	Of    int     `json:"of"`
	Share float64 `json:"share"` // 0 if Of is 0
}

// Share is a Ratio with its Wilson 95 % interval: Newcombe, Stat Med 1998;17:857–872.
type Share struct {
	Ratio
	Low  float64 `json:"low95"`
	High float64 `json:"high95"`
}

// Satisfactory is the share of the recommended dose from which adherence is most often
// called satisfactory: Bailey et al., Br J Sports Med 2020;54:326–331.
const Satisfactory = 0.8

// Adherence is how much of the dose was done. See the package for what counts.
type Adherence struct {
	From         sessions.Date `json:"from"` // first day whose dose is known
	Sessions     Share         `json:"sessions"`
	Repetitions  Ratio         `json:"repetitions"`  // of what each day asked
	Satisfactory bool          `json:"satisfactory"` // Sessions.Share is at least Satisfactory; false if nothing was asked for

	Weekdays [7]Ratio    `json:"weekdays"`     // Monday first
	Parts    [4]DayShare `json:"parts_of_day"` // in order from midnight
}

// DayShare is on how many of the days that asked for a session one was completed in a
// part of the day. Sessions whose time is not known, such as those from paper, are in
// none.
type DayShare struct {
	Name  string `json:"name"`
	Until int    `json:"until_hour"` // before this hour of the local day; from that of the part before it
	Ratio
}

// Week is one week of ISO 8601 of a course.
type Week struct {
	Year        int           `json:"iso_year"`
	Week        int           `json:"iso_week"`
	From        sessions.Date `json:"from"` // of the week's days, the first and the last that count
	To          sessions.Date `json:"to"`
	Sessions    Share         `json:"sessions"`    // completed of prescribed; 0 of 0 if the dose is not known
	Repetitions Ratio         `json:"repetitions"` // of what the days asked
	Counts      Counts        `json:"counts"`
	Stops       int           `json:"stops"`

	TinglingBefore *float64 `json:"tingling_before_mean,omitempty"` // nil if not rated, like the others
	TinglingAfter  *float64 `json:"tingling_after_mean,omitempty"`
	PainBefore     *float64 `json:"pain_before_mean,omitempty"`
	PainAfter      *float64 `json:"pain_after_mean,omitempty"`
}

// Day is one day of a course.
type Day struct {
	Date        sessions.Date `json:"date"`
	Sessions    Ratio         `json:"sessions"` // completed of prescribed; 0 of 0 if the dose is not known
	Repetitions Ratio         `json:"repetitions"`
	Counts      Counts        `json:"counts"`
}

// StopAt is a stop with its session.
type StopAt struct {
	Session string        `json:"session"`       // its ID
	Date    sessions.Date `json:"date,omitzero"` // zero if not known
	Ended   bool          `json:"ended"`         // it ended the session
	Stop
}

// Settling is how long symptoms took to be back to where they were, after stops and after
// sessions.
type Settling struct {
	Timed      int     `json:"timed"`       // how often they were back
	Median     float64 `json:"median_s"`    // of those times
	Slowest    float64 `json:"slowest_s"`   // of those times
	NotSettled int     `json:"not_settled"` // how often they were not when asked
}

// Rating is how strong tingling or pain was.
type Rating struct {
	Name     string `json:"name"`
	Sessions int    `json:"sessions"` // with a rating before, of the present prescription

	// Baseline is the median of the ratings before the first three sessions of the
	// present prescription that have one, of two the lower; nil if none has one.
	Baseline *int `json:"baseline,omitempty"`
	// Now is the same of the last three sessions that have one, but for those of the
	// baseline; nil if there are none.
	Now *int `json:"now,omitempty"`
	// First is the baseline of the first prescription in the diary; nil if it is the
	// present one.
	First *int `json:"first_baseline,omitempty"`

	// What only half of the sessions' ratings tell.
	OnlyBefore int  `json:"only_before"`          // sessions rated before but not after
	OnlyAfter  int  `json:"only_after"`           // sessions rated after but not before
	LastAfter  *int `json:"last_after,omitempty"` // of the latest session that was rated after; nil if there is none

	Before *Trend        `json:"before_trend,omitempty"` // nil if too few days have a rating
	After  *Trend        `json:"after_trend,omitempty"`
	Days   []RatingOfDay `json:"days"`
}

// Change returns by how many points the rating changed since the baseline, and which
// share of the baseline that is, 0 if that was 0. It is false if it is not known.
func (r *Rating) Change() (points int, share float64, known bool) {
	if r.Baseline == nil || r.Now == nil {
		return 0, 0, false
	}
	points = *r.Now - *r.Baseline
	if *r.Baseline > 0 {
		share = float64(points) / float64(*r.Baseline)
	}
	return points, share, true
}

// The smallest change of a 0–10 rating that matters: Farrar et al., Pain 2001;94:149–158.
// They are for the improvement of chronic pain over trials, and are borrowed here for
// tingling and for a rise.
const (
	MattersPoints = 2
	MattersShare  = 0.3
)

// RatingOfDay is the mean of a day's ratings, of which there are mostly one or two.
type RatingOfDay struct {
	Date   sessions.Date `json:"date"`
	Before *float64      `json:"before_mean,omitempty"` // nil if not rated
	After  *float64      `json:"after_mean,omitempty"`
}

// Trend is a change of the ratings of days over time.
type Trend struct {
	Days  int     `json:"days"`           // with a rating
	Slope float64 `json:"slope_per_week"` // points a week (Theil–Sen)
	Low   float64 `json:"low95_per_week"`
	High  float64 `json:"high95_per_week"`
	P     float64 `json:"p"` // that there is no trend (Mann–Kendall, two-sided)
}

// MatchUse is how sessions went with one way to match breath and movement.
type MatchUse struct {
	Match        string   `json:"match"`
	Sessions     int      `json:"sessions"`
	Completed    int      `json:"completed"`
	WithStop     int      `json:"with_stop"`
	TinglingRise *float64 `json:"tingling_rise_mean,omitempty"` // from before to after; nil if not rated
	PainRise     *float64 `json:"pain_rise_mean,omitempty"`
}

// Pace is the rate of the breath, where the plan of a session ends.
type Pace struct {
	Prescribed  float64 `json:"prescribed_per_min"` // 0 if not known
	First       float64 `json:"first_per_min"`      // of the first session; 0 if not known
	Last        float64 `json:"last_per_min"`       // of the latest session; 0 if not known
	Slowest     float64 `json:"slowest_per_min"`    // of all sessions, eased within one included; 0 if not known
	EasedBegun  int     `json:"eased_sessions"`     // begun at a slower rate than prescribed
	EasedWithin int     `json:"eased_stops"`        // stops after which a session went on slower
}
