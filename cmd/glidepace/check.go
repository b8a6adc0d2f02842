package main

import (
	"cmp"
	"errors"
	"fmt"
	"slices"

	"github.com/spf13/cobra"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/cmd/glidepace/internal/live"
	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/history"
)

func checkCommand() *cobra.Command {
	var form, diary string
	var today, all bool
	cmd := &cobra.Command{
		Use:   "check FILE...",
		Short: "Find mistakes in session files, and say what they add up to",
		Long: `Checks session files. For a file with mistakes it says what is wrong, at which
line and column, and what would be right. For a good one it says first what asks
for care in it, then in a line each the breath, the movement, the sets, the
length and the dose. --all adds every figure, what the voice leaves out, when
not to exercise, and whom to call.`,
		Example: `  glidepace check first-week.yaml
  glidepace check first-week.yaml --all
  glidepace check *.yaml --format json
  glidepace check first-week.yaml --today       today's session, and why`,
		Args: cobra.MinimumNArgs(1),
		RunE: untilSignal(func(cmd *cobra.Command, args []string) error {
			if err := oneOf("format", form, "text", "json"); err != nil {
				return err
			}
			reports, failed, err := reportFiles(cmd, args, today, diary)
			if err != nil {
				return err
			}
			if form == "json" {
				if err := console.WriteJSON(cmd.OutOrStdout(), reports); err != nil {
					return err
				}
				return failed
			}
			p := console.NewPrinter(cmd.OutOrStdout())
			writeReports(p, reports, all)
			return cmp.Or(p.Err, failed)
		}),
	}
	formatFlag(cmd, &form, "text", "json")
	todayFlags(cmd, &today, &diary)
	cmd.Flags().BoolVar(&all, "all", false, "every figure, and all cautions")
	return cmd
}

// reportFiles reports the named session files. What is wrong with a file it says at
// once; failed then has the exit code.
func reportFiles(cmd *cobra.Command, names []string, today bool, diary string) (reports []report, failed, err error) {
	reports = []report{}
	wrong := func(err error) {
		console.SayError(cmd.ErrOrStderr(), "", err)
		failed = console.ExitError(console.ExitUsage)
	}
	for _, name := range names {
		t, err := live.Load(name)
		if err != nil {
			wrong(err)
			continue
		}
		var now history.Today
		dose := newDoseReport(t.Session().Dose, t.Repetitions)
		if today {
			if now, err = todaysTimeline(t, diary); err != nil {
				return nil, nil, err
			}
			t = now.Timeline
		}
		r := newReport(name, t)
		r.Today, r.Against, r.Dose = now.Why, now.Against, dose
		if r.Sound, err = newSoundReport(cmd.Context(), name, t); err != nil {
			if cmd.Context().Err() != nil {
				return nil, nil, errors.New("interrupted")
			}
			wrong(err)
			continue
		}
		reports = append(reports, r)
	}
	return reports, failed, nil
}

// report is what check says about a file without mistakes.
type report struct {
	File        string             `json:"file"`
	Title       string             `json:"title"`
	Today       string             `json:"today,omitempty"`   // why today's session is what it is
	Against     []string           `json:"against,omitempty"` // what speaks against beginning it now
	Match       string             `json:"match"`
	Taper       string             `json:"taper,omitempty"`
	Exercises   []exerciseReport   `json:"exercises"`
	Sets        []pacer.SetSummary `json:"sets"`
	Length      float64            `json:"duration_s"`
	Raised      float64            `json:"raised_s"`
	Breaths     int                `json:"breaths"`
	Repetitions int                `json:"repetitions"`
	Dose        *doseReport        `json:"dose,omitempty"`
	Sound       soundReport        `json:"sound"`
	NoPicture   []string           `json:"no_picture,omitempty"` // glides that a page on a phone cannot draw, without a figure in the file
	Cautions    []caution          `json:"cautions"`

	leadIn, posture  float64 // seconds
	postureThen      string  // what the posture is later, "" for the same
	easing, progress string
	repsFrom         int  // repetitions that are worked up from, 0 for none
	ownGlides        bool // whether the arm is raised in them is not known
	neck             bool // a glide moves the head
}

// exerciseReport is the tempo of one exercise, for both ways to match breath and
// movement.
type exerciseReport struct {
	Glide string      `json:"glide"`
	Side  string      `json:"side"`
	Tempo pacer.Tempo `json:"tempo"`
	Other pacer.Tempo `json:"other_match"`
}

type doseReport struct {
	PerDayMin      int    `json:"per_day_min"`
	PerDayMax      int    `json:"per_day_max"`
	Days           int    `json:"days,omitempty"`
	Start          string `json:"start,omitempty"`
	End            string `json:"end,omitempty"`
	SessionsMin    int    `json:"sessions_min,omitempty"`
	SessionsMax    int    `json:"sessions_max,omitempty"`
	RepetitionsMin int    `json:"repetitions_min,omitempty"`
	RepetitionsMax int    `json:"repetitions_max,omitempty"`
}

type caution struct {
	Line   int    `json:"line"`
	Column int    `json:"column"`
	Text   string `json:"text"`
	review bool   // that the glide is still to be reviewed: the same in every file
}

func newReport(file string, t *pacer.Timeline) report {
	s := t.Session()
	r := report{
		File: file, Title: t.Title, Match: s.Breath.Match.String(), Sets: t.Sets(),
		Length: t.Duration, Breaths: t.Breaths, Repetitions: t.Repetitions,
		Cautions: []caution{},
	}
	other := sessions.BreathPerRep
	if s.Breath.Match == sessions.BreathPerRep {
		other = sessions.ExhaleOnGlide
	}
	for _, e := range s.Exercises {
		r.ownGlides = r.ownGlides || e.Own
		r.neck = r.neck || e.Glide.Neck
		if e.Glide.Figure == nil && !slices.Contains(r.NoPicture, e.Glide.Name) {
			r.NoPicture = append(r.NoPicture, e.Glide.Name)
		}
		r.Exercises = append(r.Exercises, exerciseReport{
			Glide: e.Glide.Name, Side: e.Side.String(),
			Tempo: t.Tempo(e, s.Breath.Match), Other: t.Tempo(e, other),
		})
	}
	for _, set := range r.Sets {
		r.Raised += set.Raised
	}
	if taper := s.Breath.Taper; taper != nil {
		r.Taper = fmt.Sprintf("from %g to %g breaths a minute over the first %s", taper.From, s.Breath.Rate, sessions.Count(taper.Breaths, "breath"))
	}
	for _, st := range t.Steps {
		switch {
		case st.Move == pacer.Posture:
			r.posture += st.Duration
		case st.Exercise == 0:
			r.leadIn += st.Duration
		}
	}
	if s.Posture == sessions.PostureAuto && t.PostureTexts() != nil {
		r.postureThen = ", said in full; short from the fourth session on"
	}
	r.easing = easingWords(t)
	if g := s.Progress; g != nil {
		r.repsFrom = g.RepsFrom
		r.progress = fmt.Sprintf("from %s to %d, %d more after %s, and not within %s of the last change",
			sessions.Count(g.RepsFrom, "repetition"), s.Goal(), g.Add, sessions.Count(g.After, "comfortable session"), sessions.Count(g.Days, "day"))
	}
	for _, c := range pacer.Cautions(t) {
		r.Cautions = append(r.Cautions, caution{c.Line, c.Column, c.Text, isReview(s, c.Text)})
	}
	return r
}

// isReview reports whether a caution is that a glide is still to be reviewed.
func isReview(s *sessions.Session, caution string) bool {
	return slices.ContainsFunc(s.Exercises, func(e sessions.Exercise) bool {
		return e.Glide.Review != "" && caution == e.Glide.Name+": "+e.Glide.Review
	})
}

// easingWords says how a session goes on after symptoms.
func easingWords(t *pacer.Timeline) string {
	e := t.Session().Ease
	how := fmt.Sprintf("%g %% slower, not under %g a minute", 100*e.Slower, e.Floor)
	if !t.Slows() {
		how = "smaller, but not slower"
		if e.Slower > 0 {
			how += fmt.Sprintf(": nothing is slowed below %g a minute", e.Floor)
		}
	}
	if e.FewerReps > 0 {
		how += fmt.Sprintf("; %s fewer", sessions.Count(e.FewerReps, "repetition"))
	}
	return how + fmt.Sprintf("; the session ends at stop %d, or if symptoms do not settle in %s", e.Tries+1, pacer.Clock(e.SettleWithin.Seconds()))
}

func newDoseReport(d *sessions.Dose, repetitions int) *doseReport {
	if d == nil {
		return nil
	}
	r := &doseReport{PerDayMin: d.PerDayMin, PerDayMax: d.PerDayMax, Days: d.Days}
	if !d.Start.IsZero() {
		r.Start = d.Start.String()
		if d.Days > 0 {
			r.End = d.Start.AddDays(d.Days - 1).String()
		}
	}
	r.SessionsMin, r.SessionsMax = d.PerDayMin*d.Days, d.PerDayMax*d.Days
	r.RepetitionsMin, r.RepetitionsMax = r.SessionsMin*repetitions, r.SessionsMax*repetitions
	return r
}
