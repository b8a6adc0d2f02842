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
keep a pin as it was when nobody holds it any more: a motor that was on then
stays on. The box's service does this after every end of the program; after
"pace --buzzer" do it by hand, or unplug the board.

While a program still holds the pins this is an error.`,
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
