package main

import (
	"bytes"
	"fmt"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/cmd/glidepace/internal/live"
	"glidepace/sessions/handout"
	"glidepace/sessions/safefile"
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
goes onto the page and is kept nowhere else.`,
		Example: `  glidepace handout first-week.yaml -o handout.html --contact "the clinic, 555 0100"
  glidepace handout first-week.yaml -o handout.html --sound-file first-week.mp3`,
		Args: cobra.ExactArgs(1),
		RunE: untilSignal(func(cmd *cobra.Command, args []string) error {
			t, err := live.Load(args[0])
			if err != nil {
				return err
			}
			if h.name == "" {
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
			var page bytes.Buffer
			if err := handout.Write(&page, t, h.options); err != nil {
				return err
			}
			f, err := safefile.Create(h.name, h.force)
			if err != nil {
				return fileError(err)
			}
			defer f.Discard()
			if _, err := f.Write(page.Bytes()); err != nil {
				return fmt.Errorf("%s: %w", h.name, err)
			}
			if err := safefile.Commit(f); err != nil {
				return fileError(err)
			}
			return console.Say(cmd.OutOrStdout(), "%s: open it in a browser and print it.", h.name)
		}),
	}
	f := cmd.Flags()
	f.StringVarP(&h.name, "output", "o", "", "the `name` of the page")
	f.BoolVar(&h.force, "force", false, "replace a file that exists")
	f.StringVar(&h.options.Contact, "contact", "", "whom the patient calls, such as \"the clinic, 555 0100\"")
	f.StringVar(&h.options.SoundFile, "sound-file", "", "the `name` of the sound file on the patient's phone")
	f.StringVar(&boxFile, "box", "", "add a page for whoever borrows the box of this box `file`")
	return cmd
}

// handoutRun is one call of handout.
type handoutRun struct {
	name    string
	force   bool
	options handout.Options
}
