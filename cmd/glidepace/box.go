package main

import (
	"github.com/spf13/cobra"

	"glidepace/cmd/glidepace/internal/live"
	"glidepace/devices/box"
	"glidepace/sessions/safefile"
)

func boxCommand() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "box",
		Short: "The buzzer box that a clinic lends: prepare, run, take back",
		Long: `A small board with one button, one light and a vibration motor paces a session
without a screen. A clinic builds and tests it (wiring), makes it start by
itself (service), lends it with a session (load), takes it back with its diary
(back), and sees which boxes are out (list). On the box itself, run waits for
the button.`,
		Example: `  glidepace box wiring box.yaml
  glidepace box load first-week.yaml --to /media/card/glidepace
  glidepace box back --from /media/card/glidepace --into clinic.db
  glidepace box list --diary clinic.db`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	cmd.AddCommand(boxWiringCommand(), boxServiceCommand(), boxLoadCommand(), boxBackCommand(), boxListCommand(), boxLostCommand(), boxRunCommand(), boxOffCommand())
	return cmd
}

// loadBox reads a box file.
func loadBox(name string) (*box.File, error) {
	f, err := safefile.Open(name)
	if err != nil {
		return nil, live.OpenError(name, err)
	}
	defer f.Close()
	return box.Parse(name, f)
}
