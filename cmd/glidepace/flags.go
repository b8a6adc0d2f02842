package main

import (
	"glidepace/cmd/glidepace/internal/console"
	"slices"
	"strings"

	"github.com/spf13/cobra"
)

// formatFlag adds --format with its first value as default.
func formatFlag(cmd *cobra.Command, form *string, values ...string) {
	cmd.Flags().StringVar(form, "format", values[0], strings.Join(values, ", "))
}

// oneOf refuses a flag's value that is none of those allowed.
func oneOf(flag, value string, allowed ...string) error {
	if slices.Contains(allowed, value) {
		return nil
	}
	return console.Usagef("--%s %q: allowed is %s", flag, value, strings.Join(allowed, ", "))
}
