package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"glidepace/cmd/glidepace/internal/boxrun"
)

func boxOffCommand() *cobra.Command {
	return &cobra.Command{
		Use:   "off BOX.yaml",
		Short: "Switch off what a killed program may have left on",
		Long: `Takes the pins of the buzzer and of the light, drives them low and lets go of
them. A program that is killed outright cannot do that itself, and some kernels
leave a pin as it was: a motor that was on stays on. The box's service does this
whenever the program has ended. After "pace --buzzer" do it by hand, or unplug
the board.

It fails while another program still holds the pins.`,
		Example: `  glidepace box off /boot/firmware/glidepace/box.yaml`,
		Args:    cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			b, err := loadBox(args[0])
			if err != nil {
				return err
			}
			if err := boxrun.SwitchOff(b); err != nil {
				return err
			}
			_, err = fmt.Fprintln(cmd.OutOrStdout(), "buzzer and light are off")
			return err
		},
	}
}
