package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/sessions"
	"glidepace/sessions/diary"
)

// mergeReport is what became of a merge, for people and in JSON.
type mergeReport struct {
	Into    string        `json:"into"`
	New     bool          `json:"new"` // there was no diary: it was made
	Diaries []mergedDiary `json:"diaries"`
	mergeCounts
	Loans    []mergedLoan    `json:"loans"`    // that came, or of which more is known now
	Versions []otherVersions `json:"versions"` // sessions that the diaries tell differently
}

// mergedLoan is a loan that a merge brought or changed, as it is now.
type mergedLoan struct {
	loanLine
	New bool `json:"new"`
}

// mergeCounts counts the sessions of diaries that were merged.
type mergeCounts struct {
	Added    int `json:"added"`    // were not there before
	Extended int `json:"extended"` // were there, with less
	There    int `json:"there"`    // were there, with all that the other has
}

// mergedDiary is a diary that was merged, or was not.
type mergedDiary struct {
	Path string `json:"path"`
	mergeCounts
	Error string `json:"error,omitempty"` // why it was not merged
}

// otherVersions is a session of which other versions are kept, and not counted.
type otherVersions struct {
	ID      string `json:"id"`
	Patient string `json:"patient,omitempty"`
	When    string `json:"when,omitempty"`
	Counted string `json:"counted"` // what the version says that is counted
	Kept    int    `json:"kept"`    // other versions, and what was said after the session
}

func diaryMerge(path *string) *cobra.Command {
	var form string
	cmd := &cobra.Command{
		Use:   "merge OTHER...",
		Short: "Bring the sessions of other diaries into this one",
		Long: `Brings the sessions of other diaries into this one, such as those of other
computers of the clinic, or the file that a patient's page gave. The others stay
as they are. The order makes no difference, and nothing is counted twice if one
is merged again.

If two diaries tell one session differently, the version with the most entries
is counted. The others are kept and named; diary show has them.

A diary that cannot be merged, such as one of a newer glidepace, is named, and
the others are merged all the same.`,
		Example: `  glidepace diary merge --diary clinic.db room-1.db room-2.db
  glidepace diary merge --diary clinic.db glidepace-K-204.jsonl`,
		Args: cobra.MinimumNArgs(1),
		RunE: func(cmd *cobra.Command, others []string) error {
			if err := oneOf("format", form, "text", "json"); err != nil {
				return err
			}
			report, err := mergeDiaries(cmd.Context(), diaryPath(*path), others, console.NewStatusLine(cmd.ErrOrStderr()))
			if err != nil {
				return err
			}
			if form == "json" {
				err = console.WriteJSON(cmd.OutOrStdout(), report)
			} else {
				err = report.write(cmd.OutOrStdout())
			}
			for _, d := range report.Diaries {
				if d.Error != "" {
					err = errors.Join(err, errors.New(d.Error))
				}
			}
			return err
		},
	}
	formatFlag(cmd, &form, "text", "json")
	return cmd
}

// mergeDiaries merges others into the diary at path. If none of them can be, no new diary
// is left there.
func mergeDiaries(ctx context.Context, path string, others []string, progress *console.StatusLine) (report mergeReport, err error) {
	_, absent := os.Stat(path)
	d, err := diary.Open(path)
	if err != nil {
		return report, err
	}
	report = mergeReport{Into: path, New: errors.Is(absent, fs.ErrNotExist), Diaries: []mergedDiary{}, Versions: []otherVersions{}}
	before, _, err := d.Loans()
	if err != nil {
		return report, errors.Join(err, d.Close())
	}
	versions := make(map[string]bool)
	merged := 0
	for i, other := range others {
		if ctx.Err() != nil {
			break
		}
		progress.Status(fmt.Sprintf("Merging %d of %d: %s", i+1, len(others), other))
		m, err := d.MergeVersions(other)
		one := mergedDiary{other, mergeCounts{m.Added, m.Extended, m.There}, ""}
		if err != nil {
			one.Error = err.Error()
		} else {
			merged++
		}
		report.Diaries = append(report.Diaries, one)
		report.add(one.mergeCounts)
		for _, id := range m.Versions {
			versions[id] = true
		}
	}
	progress.Status("")
	if err := errors.Join(report.addVersions(d, versions), report.addLoans(d, before)); err != nil {
		return report, errors.Join(err, d.Close())
	}
	err = d.Close()
	if report.New && merged == 0 {
		report.New = false
		files, _ := diary.Files(path)
		for _, name := range files {
			err = errors.Join(err, os.Remove(name))
		}
	}
	return report, errors.Join(err, ctx.Err())
}

func (c *mergeCounts) add(d mergeCounts) {
	c.Added, c.Extended, c.There = c.Added+d.Added, c.Extended+d.Extended, c.There+d.There
}

// addVersions adds the sessions of which the diary keeps other versions.
func (r *mergeReport) addVersions(d *diary.Diary, ids map[string]bool) error {
	for _, id := range slices.Sorted(maps.Keys(ids)) {
		s, err := d.Show(id)
		if err != nil {
			return err
		}
		r.Versions = append(r.Versions, otherVersions{ID: id, Patient: s.Patient, When: s.When(),
			Counted: fmt.Sprintf("%d of %d repetitions, %s", s.Done.Repetitions, s.Planned.Repetitions, s.OutcomeWords()),
			Kept:    len(s.OtherVersions) + len(s.OtherEvents)})
	}
	return nil
}

// addLoans adds the loans that are not as they were before.
func (r *mergeReport) addLoans(d *diary.Diary, before []diary.Loan) error {
	after, _, err := d.Loans()
	r.Loans = []mergedLoan{}
	today := sessions.DateOf(time.Now())
	for _, l := range after {
		i := slices.IndexFunc(before, func(b diary.Loan) bool { return b.Box == l.Box && b.Patient == l.Patient && b.Out.Equal(l.Out) })
		line := loanLines([]diary.Loan{l}, today)[0]
		if i < 0 || line != loanLines(before[i:i+1], today)[0] {
			r.Loans = append(r.Loans, mergedLoan{line, i < 0})
		}
	}
	return err
}

func (r *mergeReport) write(w io.Writer) error {
	p := console.NewPrinter(w)
	if r.New {
		p.Sentence(fmt.Sprintf("A new diary was made: %s.", r.Into))
	}
	var counts []string
	for _, c := range []struct {
		n    int
		what string
	}{{r.Added, "added"}, {r.Extended, "got more entries"}, {r.There, "there already"}} {
		if c.n > 0 {
			counts = append(counts, fmt.Sprintf("%s %s", sessions.Count(c.n, "session"), c.what))
		}
	}
	if counts == nil {
		counts = []string{"no session"}
	}
	merged := 0
	for _, d := range r.Diaries {
		if d.Error == "" {
			merged++
		}
	}
	p.Sentence(fmt.Sprintf("%d of %s merged into %s: %s.", merged, sessions.Count(len(r.Diaries), "file"), r.Into, strings.Join(counts, ", ")))
	for _, l := range r.Loans {
		lead := "Loan changed: "
		if l.New {
			lead = "New loan: "
		}
		p.Sentence(fmt.Sprintf("%s%s, lent to %s on %s, due %s: %s.", lead, l.Box, l.Patient, l.Out, l.Due, l.words()))
	}
	if len(r.Versions) > 0 {
		p.Sentence("The diaries tell these sessions differently. What is counted stands here; what is not is kept, and diary show ID has it:")
	}
	for _, v := range r.Versions {
		p.Wrap("  "+v.ID+"  ", strings.Join(slices.DeleteFunc([]string{v.Patient, v.When, v.Counted}, func(s string) bool { return s == "" }), ", "))
	}
	return p.Err
}
