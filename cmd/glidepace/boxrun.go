package main

import (
	"path/filepath"

	"github.com/spf13/cobra"

	"glidepace/cmd/glidepace/internal/boxrun"
)

func boxRunCommand() *cobra.Command {
	return &cobra.Command{
		Use:   "run BOX.yaml",
		Short: "Be the box: wait for the button, run today's session",
		Long: `Runs on the box itself, without a screen. A press of the button starts today's
session. ` + buttonWords + `
For a minute after the end a short press says that symptoms are no stronger than
before, held that they are stronger.

A box can ask nothing before it starts. It starts no session where it knows that
the day's are done, that the last one began too short a time ago, or that one of
this day ended for symptoms. Whether symptoms are back to where they were it does
not know: the patient starts only when they are. Without a battery clock it knows
no day, and the time since the last session only while it stays plugged in.

What happens is logged on standard error, a line each; "recorded" comes when a
repetition is safely in the diary. Nothing is ever opened to a network.`,
		Example: `  glidepace box run /boot/firmware/glidepace/box.yaml
  glidepace box service       the systemd unit that runs it from power-on`,
		Args: cobra.ExactArgs(1),
		RunE: untilSignal(func(cmd *cobra.Command, args []string) error {
			b, err := loadBox(args[0])
			if err != nil {
				return err
			}
			return boxrun.Run(cmd.Context(), filepath.Dir(args[0]), b, cmd.ErrOrStderr())
		}),
	}
}

// buttonWords say what a press means while a session runs.
const buttonWords = `While it runs any press stops it, at once.

Once stopped, and after the first 5 seconds, a short press means that it has
settled: it goes on gentler, with 8 seconds first to bring the arm back. In the
first 3 of these a press means nothing. Held for 2 seconds means that it was only
a pause. Without a press the session ends for symptoms.

With one button nobody can say "dizzy". So a stop while a neck glide is paced,
from its set-up to the rest after it, ends the session as a warning sign. Later
sessions leave the neck glide out until the card is back in the clinic; where
nothing else is left the box cannot start.
`
