package main

import (
	"bytes"
	"io"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/cmd/glidepace/internal/live"
	"glidepace/pacer"
	"glidepace/sessions/handout"
)

func handoutCommand() *cobra.Command {
	h := &handoutRun{}
	var boxFile string
	cmd := &cobra.Command{
		Use:   "handout FILE -o NAME.html",
		Short: "Write a page to print: steps, dose, cautions, a diary to tick",
		Long: `Writes what the patient takes home on paper: the movements, the breath, how
often, what to do when it tingles, the cautions, whom to call, and a diary to
tick for the whole course. What was ticked goes into the diary with glidepace
diary enter.

The page prints on A4 and on Letter. It is one file that loads nothing from
elsewhere. It has the patient code of the session file, and never a name.

It shows the session as prescribed: with progress in the file, the full number of
repetitions and the rule that works up to it. What --contact and --sound-file say
goes onto the page and is kept nowhere else.

With --calendar it writes reminders for the patient's phone: every day of the
dose, at local times that stay when the clocks change, each with an alarm. A
reminder says only that it is time, and to stop if symptoms come or grow. A file
written later for the same title and patient code updates what is on the phone.
If it has fewer times a day, delete the ones too many by hand.`,
		Example: `  glidepace handout first-week.yaml -o handout.html --contact "the clinic, 555 0100"
  glidepace handout first-week.yaml -o handout.html --sound-file first-week.mp3
  glidepace handout first-week.yaml --calendar reminders.ics --at 08:00,19:30`,
		Args: cobra.ExactArgs(1),
		RunE: untilSignal(func(cmd *cobra.Command, args []string) error {
			if err := h.reminders.check(cmd); err != nil {
				return err
			}
			t, err := live.Load(args[0])
			if err != nil {
				return err
			}
			if h.name == "" && h.reminders.name == "" {
				base := strings.TrimSuffix(filepath.Base(args[0]), filepath.Ext(args[0]))
				return console.Usagef("where to? Name the page, such as -o %s.html", base)
			}
			if boxFile != "" {
				b, err := loadBox(boxFile)
				if err != nil {
					return err
				}
				h.options.Box = boxPage(b, t)
			}
			return h.write(cmd.OutOrStdout(), t)
		}),
	}
	f := cmd.Flags()
	f.StringVarP(&h.name, "output", "o", "", "the `name` of the page")
	f.BoolVar(&h.force, "force", false, "replace a file that exists")
	f.StringVar(&h.options.Contact, "contact", "", "whom the patient calls, such as \"the clinic, 555 0100\"")
	f.StringVar(&h.options.SoundFile, "sound-file", "", "the `name` of the sound file on the patient's phone")
	f.StringVar(&boxFile, "box", "", "add a page for whoever borrows the box of this box `file`")
	h.reminders.add(cmd)
	return cmd
}

// handoutRun is one call of handout.
type handoutRun struct {
	name      string
	force     bool
	options   handout.Options
	reminders reminderFlags
}

// write writes the page and the calendar, whichever has a name.
func (h *handoutRun) write(w io.Writer, t *pacer.Timeline) error {
	var files []outFile
	var said []string
	if h.name != "" {
		var page bytes.Buffer
		if err := handout.Write(&page, t, h.options); err != nil {
			return err
		}
		files = append(files, outFile{h.name, page.Bytes()})
		said = append(said, h.name+": open it in a browser and print it.")
	}
	if h.reminders.name != "" {
		reminders, words, err := h.reminders.file(t)
		if err != nil {
			return err
		}
		files, said = append(files, reminders), append(said, words)
	}
	if err := writeFiles(h.force, files...); err != nil {
		return err
	}
	p := console.NewPrinter(w)
	for _, words := range said {
		p.Sentence(words)
	}
	return p.Err
}
