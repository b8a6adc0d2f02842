package main

import (
	"fmt"
	"runtime"
	"runtime/debug"

	"github.com/spf13/cobra"

	"glidepace/cmd/glidepace/internal/console"
)

// build is what is known of how the program was made.
type build struct {
	Version  string `json:"version"` // a release, or made of the commit's time and name
	Revision string `json:"revision,omitempty"`
	Time     string `json:"time,omitempty"`     // of the commit
	Modified bool   `json:"modified,omitempty"` // what was built is not what was committed
	Go       string `json:"go"`
	System   string `json:"system"`
}

func readBuild() build {
	b := build{Version: "(unknown)", Go: runtime.Version(), System: runtime.GOOS + "/" + runtime.GOARCH}
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return b
	}
	if info.Main.Version != "" {
		b.Version = info.Main.Version
	}
	for _, s := range info.Settings {
		switch s.Key {
		case "vcs.revision":
			b.Revision = s.Value
		case "vcs.time":
			b.Time = s.Value
		case "vcs.modified":
			b.Modified = s.Value == "true"
		}
	}
	return b
}

func versionCommand() *cobra.Command {
	var form string
	cmd := &cobra.Command{
		Use:   "version",
		Short: "Say which version of the program this is",
		Long: `Says which version of the program this is. As JSON it also says which commit it
was made from, with which compiler, and for which system.`,
		Example: `  glidepace version
  glidepace version --format json`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if err := oneOf("format", form, "text", "json"); err != nil {
				return err
			}
			b := readBuild()
			if form == "json" {
				return console.WriteJSON(cmd.OutOrStdout(), b)
			}
			_, err := fmt.Fprintln(cmd.OutOrStdout(), "glidepace version", b.Version)
			return err
		},
	}
	formatFlag(cmd, &form, "text", "json")
	return cmd
}
