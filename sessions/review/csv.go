package review

import (
	"bufio"
	"fmt"
	"io"

	"glidepace/sessions/diary"
)

// WriteCSV writes one line for each patient and week, after a line of column names; see
// [diary.WriteRow] for its form. Shares are 0 to 1. What is not known is empty. New
// columns come last.
func WriteCSV(w io.Writer, courses []Course) error {
	b := bufio.NewWriter(w)
	diary.WriteRow(b, "patient", "title", "iso_week", "from", "to",
		"prescribed_sessions", "done_sessions", "share", "share_low95", "share_high95",
		"asked_repetitions", "done_repetitions", "repetitions_share",
		"completed", "ended_early", "interrupted", "stopped_for_symptoms", "extra", "stops",
		"tingling_before_mean", "tingling_after_mean", "pain_before_mean", "pain_after_mean")
	for i := range courses {
		c := &courses[i]
		for _, week := range c.Weeks {
			row := []any{c.Patient, c.Title, fmt.Sprintf("%04d-W%02d", week.Year, week.Week), week.From.String(), week.To.String()}
			if s, r := week.Sessions, week.Repetitions; s.Of > 0 {
				row = append(row, s.Of, s.Done, s.Share, s.Low, s.High, r.Of, r.Done, r.Share)
			} else {
				row = append(row, nil, nil, nil, nil, nil, nil, nil, nil)
			}
			n := week.Counts
			row = append(row, n.Completed, n.EndedEarly, n.Interrupted, n.Stopped, n.Extra, week.Stops)
			for _, mean := range []*float64{week.TinglingBefore, week.TinglingAfter, week.PainBefore, week.PainAfter} {
				if mean == nil {
					row = append(row, nil)
					continue
				}
				row = append(row, *mean)
			}
			diary.WriteRow(b, row...)
		}
	}
	return b.Flush()
}
