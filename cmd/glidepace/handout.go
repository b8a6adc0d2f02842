package main

import (
	"context"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/cmd/glidepace/internal/live"
	"glidepace/pacer"
)

func handoutCommand() *cobra.Command {
	h := &handoutRun{}
	cmd := &cobra.Command{
		Use:   "handout FILE -o NAME.html",
		Short: "Write a page to print: steps, dose, cautions, a diary to tick",
		Long: `Writes what the patient takes home on paper: the movements with pictures, the
breath, how often, what to do when it tingles, the cautions, whom to call, and a
diary to tick for the whole course. glidepace diary enter takes back what was
ticked.

NAME.html is one page that loads nothing from elsewhere. Open it in a browser
and print it, on A4 or on Letter. NAME.pdf is the same, ready to print; it needs
Chromium or Chrome.

The handout is of the session as prescribed, not of today's: with progress in
the file, it has the full number of repetitions and the rule that works up to
it. It has the patient code of the file, and never a name. What --contact and
--sound-file say goes onto the page, and is kept nowhere else.

With --calendar it writes reminders for the patient's phone: every day of the
dose, at local times that stay when the clocks change, each with an alarm. A
reminder says only that it is time, and to stop if symptoms come or grow. A file
written later for the same title and patient code updates what is on the phone.
If it has fewer times a day, delete the ones too many by hand.`,
		Example: `  glidepace handout first-week.yaml -o handout.html --contact "clinic, 555 0100"
  glidepace handout first-week.yaml -o handout.pdf --paper Letter
  glidepace handout first-week.yaml -o handout.html --sound-file first-week.mp3
  glidepace handout first-week.yaml -o handout.html --box box-3.yaml
  glidepace handout first-week.yaml --calendar reminders.ics --at 08:00,19:30`,
		Args: cobra.ExactArgs(1),
		RunE: untilSignal(func(cmd *cobra.Command, args []string) error {
			if err := h.reminders.check(cmd, args[0], h.page.box); err != nil {
				return err
			}
			if err := h.page.check(cmd, args[0], h.force); err != nil {
				return err
			}
			t, err := live.Load(args[0])
			if err != nil {
				return err
			}
			if h.page.name == "" && h.reminders.name == "" {
				base := strings.TrimSuffix(filepath.Base(args[0]), filepath.Ext(args[0]))
				return console.Usagef("where to? Name the page, such as -o %s.html", base)
			}
			said, err := h.write(cmd.Context(), t)
			if err != nil {
				return err
			}
			p := console.NewPrinter(cmd.OutOrStdout())
			for _, words := range said {
				p.Sentence(words)
			}
			return p.Err
		}),
	}
	h.page.add(cmd)
	cmd.Flags().BoolVar(&h.force, "force", false, "replace a file that exists")
	h.reminders.add(cmd)
	return cmd
}

// handoutRun is one call of handout.
type handoutRun struct {
	force     bool
	page      pageFlags
	reminders reminderFlags
}

// write writes the page and the calendar, whichever has a name, and returns what to
// say about each.
func (h *handoutRun) write(ctx context.Context, t *pacer.Timeline) (said []string, err error) {
	var files []outFile
	add := func(f outFile, words string, err error) error {
		files, said = append(files, f), append(said, words)
		return err
	}
	if h.page.name != "" {
		if err := add(h.page.file(ctx, t)); err != nil {
			return nil, err
		}
	}
	if h.reminders.name != "" {
		if err := add(h.reminders.file(t)); err != nil {
			return nil, err
		}
	}
	return said, writeFiles(h.force, files...)
}
