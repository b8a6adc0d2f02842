package main

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/cmd/glidepace/internal/live"
	"glidepace/pacer"
	"glidepace/pacer/picture"
)

func timelineCommand() *cobra.Command {
	r := timelineRun{}
	cmd := &cobra.Command{
		Use:   "timeline FILE",
		Short: "Show every step of a session with its time",
		Long: `Shows the timeline of a session file: every step with its start, its length, the
breath and the movement. JSON and CSV have the numbers in full precision.

As svg or png it is a picture to print: one repetition with its seconds, and the
whole session with breath and movement over time.`,
		Example: `  glidepace timeline first-week.yaml
  glidepace timeline first-week.yaml --format csv > first-week.csv
  glidepace timeline first-week.yaml -o first-week.png`,
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			return r.run(cmd, args[0])
		},
	}
	f := cmd.Flags()
	formatFlag(cmd, &r.form, timelineForms...)
	f.StringVarP(&r.name, "output", "o", "", "the `name` of a file to write to; its end is its format too: .txt, .json, .csv, .svg, .png")
	f.BoolVar(&r.force, "force", false, "replace a file that exists")
	todayFlags(cmd, &r.today, &r.diary)
	postureFlag(cmd, &r.posture)
	return cmd
}

var timelineForms = []string{"table", "json", "csv", "svg", "png"}

// timelineRun is one call of timeline.
type timelineRun struct {
	form, name, diary, posture string
	force, today               bool
}

func (r *timelineRun) run(cmd *cobra.Command, file string) error {
	if err := errors.Join(r.chooseForm(cmd, file), checkPosture(r.posture)); err != nil {
		return err
	}
	t, err := live.Load(file)
	if err != nil {
		return err
	}
	if t, err = takePlace(t, r.posture); err != nil {
		return err
	}
	why := ""
	if r.today {
		now, err := todaysTimeline(t, r.diary)
		if err != nil {
			return err
		}
		t, why = now.Timeline, "Today: "+now.Words()
	}
	if r.name == "" {
		return writeTimeline(cmd.OutOrStdout(), r.form, t, why)
	}
	var b bytes.Buffer
	if err := writeTimeline(&b, r.form, t, why); err != nil {
		return err
	}
	if err := writeFiles(r.force, outFile{r.name, b.Bytes()}); err != nil {
		return err
	}
	return console.Say(cmd.OutOrStdout(), "%s is written.", r.name)
}

// chooseForm takes the format from the name of the file to write, where none is given.
func (r *timelineRun) chooseForm(cmd *cobra.Command, file string) error {
	end := strings.ToLower(strings.TrimPrefix(filepath.Ext(r.name), "."))
	if !cmd.Flag("format").Changed && slices.Contains(timelineForms[1:], end) {
		r.form = end
	}
	if r.form == "png" && r.name == "" && console.IsTerminal(cmd.OutOrStdout()) {
		return console.Usagef("a terminal cannot show a PNG picture: name a file, such as -o timeline.png")
	}
	if err := oneOf("format", r.form, timelineForms...); err != nil || r.name == "" {
		return err
	}
	ends := []string{".txt", ".json", ".csv", ".svg", ".png"} // in the order of the formats
	if cmd.Flag("format").Changed {
		i := slices.Index(timelineForms, r.form)
		ends = ends[i : i+1]
	}
	return checkOut(r.name, ends, file, r.diary)
}

// writeTimeline writes a timeline in a format, with why it is not as prescribed.
func writeTimeline(w io.Writer, form string, t *pacer.Timeline, why string) error {
	switch form {
	case "json":
		return console.WriteJSON(w, t)
	case "csv":
		return timelineCSV(w, t)
	case "table":
		return timelineTable(w, t, why)
	}
	session := picture.Session(t, why)
	draw := session.SVG
	if form == "png" {
		draw = session.PNG
	}
	drawn, err := draw()
	if err != nil {
		return err
	}
	_, err = w.Write(drawn)
	return err
}

func timelineTable(w io.Writer, t *pacer.Timeline, why string) error {
	p := console.NewPrinter(w)
	p.Line("%s: %s, %d breaths, %d repetitions", t.Title, pacer.Clock(t.Duration), t.Breaths, t.Repetitions)
	p.Sentence(why)
	p.Line("")
	if p.Err != nil {
		return p.Err
	}
	tab := console.NewTable(w)
	tab.Row("START", "SECONDS", "BREATH", "MOVE", "EXERCISE", "SIDE", "SET", "REP", "PER MIN")
	for _, s := range t.Steps {
		exercise := ""
		if s.Exercise > 0 {
			exercise = fmt.Sprintf("%d %s", s.Exercise, s.Glide)
		}
		rate := ""
		if s.Rate > 0 {
			rate = fmt.Sprintf("%.2f", s.Rate)
		}
		tab.Row(clockTenths(s.Start), fmt.Sprintf("%.3f", s.Duration), s.Breath.String(), s.Move.String(),
			exercise, s.Side.String(), number(s.Set), number(s.Rep), rate)
	}
	return tab.Flush()
}

// clockTenths writes seconds as minutes, seconds and tenths, such as 2:05.3.
func clockTenths(seconds float64) string {
	tenths := pacer.Frame(seconds, 10)
	return fmt.Sprintf("%d:%02d.%d", tenths/600, tenths/10%60, tenths%10)
}

// number writes a count, and nothing for 0.
func number(n int) string {
	if n == 0 {
		return ""
	}
	return strconv.Itoa(n)
}

// timelineCSV writes the steps as CSV (RFC 4180), with the names of the JSON
// format.
func timelineCSV(w io.Writer, t *pacer.Timeline) error {
	c := csv.NewWriter(w)
	c.UseCRLF = true
	c.Write([]string{"start_s", "duration_s", "breath", "move", "exercise", "glide", "side", "set", "rep", "rate_per_min"})
	full := func(f float64) string { return strconv.FormatFloat(f, 'g', -1, 64) }
	for _, s := range t.Steps {
		c.Write([]string{full(s.Start), full(s.Duration), s.Breath.String(), s.Move.String(), strconv.Itoa(s.Exercise),
			s.Glide, s.Side.String(), strconv.Itoa(s.Set), strconv.Itoa(s.Rep), full(s.Rate)})
	}
	c.Flush()
	return c.Error()
}
