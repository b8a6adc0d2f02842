package main

import (
	"path/filepath"

	"github.com/spf13/cobra"

	"glidepace/cmd/glidepace/internal/boxrun"
)

func boxRunCommand() *cobra.Command {
	return &cobra.Command{
		Use:   "run BOX.yaml",
		Short: "Wait on the box for the button, then pace today's session",
		Long: `Runs on the box itself, without a screen. A press of the button starts today's
session. ` + buttonHelp + `
For a minute after the end a short press says that symptoms are no stronger than
before. A press of 2 seconds says that they are stronger.

A box cannot ask anything before it starts. It starts no session when it knows
that today's are done, that the last one began too recently, or that one today
ended for symptoms. It cannot know whether symptoms are back to where they were:
the patient starts only when they are. Without a battery clock it does not know
the day, and knows the time since the last session only while it stays plugged
in.

What happens is logged on standard error, one line each. "recorded" comes when a
repetition is safely in the diary. The box never opens a network connection.`,
		Example: `  glidepace box run /boot/firmware/glidepace/box.yaml
  glidepace box service       the systemd unit that runs it from power-on`,
		Args: cobra.ExactArgs(1),
		RunE: untilSignal(func(cmd *cobra.Command, args []string) error {
			unblock(cmd)
			b, err := loadBox(args[0])
			if err != nil {
				return err
			}
			return boxrun.Run(cmd.Context(), filepath.Dir(args[0]), b, cmd.ErrOrStderr())
		}),
	}
}

// buttonHelp says what a press means while a session runs.
const buttonHelp = `While it runs, any press stops it at once.

After a stop, presses in the first 5 seconds mean nothing. After that:
- A short press means that symptoms have settled. The session goes on gentler,
  with 8 seconds first to bring the arm back; presses in the first 3 of these
  mean nothing.
- A press of 2 seconds means that it was only a pause.
- Without a press the session ends for symptoms.

With one button nobody can say "dizzy". So a stop while a neck glide is paced,
from its set-up to the rest after it, ends the session as a warning sign. Later
sessions leave the neck glide out until the card is back in the clinic. If
nothing else is left, the box cannot start.
`
