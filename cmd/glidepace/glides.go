package main

import (
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"glidepace/sessions/cautions"
	"glidepace/sessions/glides"
)

func glidesCommand() *cobra.Command {
	var form string
	cmd := &cobra.Command{
		Use:   "glides [NAME]",
		Short: "List the library of glides, or show one",
		Long: `Without a name, lists the glides that a session file may name. With one, shows
its posture, start position, movements and what to watch.`,
		Example: `  glidepace glides
  glidepace glides median-wrist`,
		Args: cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := oneOf("format", form, "text", "json"); err != nil {
				return err
			}
			out := cmd.OutOrStdout()
			if len(args) == 0 {
				if form == "json" {
					return writeJSON(out, glides.All())
				}
				return listGlides(out)
			}
			g, ok := glides.Find(args[0])
			if !ok {
				return usageError{fmt.Errorf("no glide is named %q; there are %s", args[0], strings.Join(glides.Names(), ", "))}
			}
			if form == "json" {
				return writeJSON(out, g)
			}
			return showGlide(out, g)
		},
	}
	formatFlag(cmd, &form, "text", "json")
	return cmd
}

func listGlides(w io.Writer) error {
	t := newTable(w)
	t.row("NAME", "KIND", "WHAT IT IS")
	for _, g := range glides.All() {
		t.row(g.Name, g.Kind, g.Title)
	}
	if err := t.flush(); err != nil {
		return err
	}
	p := newPrinter(w)
	p.line("")
	p.wrap("", "A slider loads the nerve at one joint while another eases it, a tensioner loads it at both; single: one joint, or the fingers, move alone.")
	return p.err
}

func showGlide(w io.Writer, g glides.Glide) error {
	p := newPrinter(w)
	p.line("%s: %s", g.Name, g.Title)
	if g.Review != "" {
		p.wrap("", "Note: "+g.Review)
	}
	for _, text := range cautions.OfGlide(g) {
		p.wrap("", "Caution: "+text)
	}
	if g.Neck {
		p.wrap("", "Ask first: "+cautions.AskNeck+".")
	}
	p.line("")
	p.field("nerve", g.Nerve)
	p.field("kind", g.Kind)
	p.field("side", "the one that the session names; the other arm rests")
	p.posture(g.Posture)
	p.field("start", g.Start)
	p.field("out", g.Out)
	p.field("back", g.Back)
	p.field("pause", pauseWords(g.BothEnds))
	p.line("")
	p.line("Watch:")
	for _, w := range g.Watch {
		p.wrap("- ", w)
	}
	return p.err
}

func pauseWords(bothEnds bool) string {
	if bothEnds {
		return "under a second at both ends of the movement; never a hold"
	}
	return "under a second at the end of the movement out; never a hold"
}
