package main

import (
	"strings"

	"github.com/spf13/cobra"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/sessions"
)

// soundFlags are the flags for how a session sounds. Where one is not given, the
// session file decides.
type soundFlags struct {
	volume int // -1 where it is not given
	parts  []string
}

func (f *soundFlags) add(cmd *cobra.Command) {
	cmd.Flags().IntVar(&f.volume, "volume", -1, "loudness, 0 to 100 (default: the file's, else 60)")
	cmd.Flags().Lookup("volume").DefValue = "0" // so that the help shows no default of -1
	cmd.Flags().StringSliceVar(&f.parts, "parts", nil,
		"which parts are heard, of "+strings.Join(sessions.PartNames, ",")+" (default: the file's, else all)")
}

// check refuses values that are not allowed.
func (f *soundFlags) check(cmd *cobra.Command) error {
	if cmd.Flags().Changed("volume") && (f.volume < 0 || f.volume > 100) {
		return console.Usagef("--volume %d: allowed is 0 to 100", f.volume)
	}
	for i, part := range f.parts {
		f.parts[i] = strings.TrimSpace(part)
	}
	if cmd.Flags().Changed("parts") {
		if _, err := sessions.ParseParts(f.parts); err != nil {
			return console.Usagef("--parts: %w", err)
		}
	}
	return nil
}

// of returns s with the sound that the flags ask for.
func (f *soundFlags) of(s *sessions.Session) *sessions.Session {
	own := *s
	if f.volume >= 0 {
		own.Sounds.Volume = f.volume
	}
	if parts, err := sessions.ParseParts(f.parts); err == nil && len(f.parts) > 0 {
		own.Sounds.Parts = parts
	}
	return &own
}
