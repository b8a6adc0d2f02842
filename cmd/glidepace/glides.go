package main

import (
	"io"
	"strings"

	"github.com/spf13/cobra"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/sessions/cautions"
	"glidepace/sessions/glides"
	"glidepace/sessions/glides/figure"
)

func glidesCommand() *cobra.Command {
	var form, picture, side string
	var force bool
	cmd := &cobra.Command{
		Use:   "glides [NAME]",
		Short: "List the library of glides, or show one",
		Long: `Without a name, lists the glides that a session file may name. With one, shows
its posture, start position, movements and what to watch for.

With --svg, writes a picture of the movement instead: how it begins and, beside
it, how it ends, with an arrow from the one to the other.`,
		Example: `  glidepace glides
  glidepace glides median-wrist
  glidepace glides median-wrist --svg wrist.svg --side left`,
		Args: cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := oneOf("format", form, "text", "json"); err != nil {
				return err
			}
			if err := oneOf("side", side, "right", "left"); err != nil {
				return err
			}
			if picture != "" {
				if err := checkOut(picture, []string{".svg"}); err != nil {
					return err
				}
			}
			out := cmd.OutOrStdout()
			if len(args) == 0 {
				if picture != "" {
					return console.Usagef("a picture of which glide? Name it, such as glidepace glides median-wrist --svg %s", picture)
				}
				if form == "json" {
					return console.WriteJSON(out, glides.All())
				}
				return listGlides(out)
			}
			g, ok := glides.Find(args[0])
			if !ok {
				return console.Usagef("no glide is named %q; there are %s", args[0], strings.Join(glides.Names(), ", "))
			}
			switch {
			case picture != "":
				svg := figure.DrawPair(*g.Figure, figure.Options{Left: side == "left", Title: g.Title})
				if err := writeFiles(force, outFile{picture, []byte(svg)}); err != nil {
					return err
				}
				return console.Say(out, "%s: open it in a browser, or put it into a document.", picture)
			case form == "json":
				return console.WriteJSON(out, g)
			}
			return showGlide(out, g)
		},
	}
	formatFlag(cmd, &form, "text", "json")
	f := cmd.Flags()
	f.StringVar(&picture, "svg", "", "write a picture of the movement into this `file`")
	f.StringVar(&side, "side", "right", "the arm in the picture: right or left")
	f.BoolVar(&force, "force", false, "replace a file that exists")
	cmd.MarkFlagsMutuallyExclusive("svg", "format")
	return cmd
}

func listGlides(w io.Writer) error {
	t := console.NewTable(w)
	t.Row("NAME", "KIND", "WHAT IT IS")
	for _, g := range glides.All() {
		t.Row(g.Name, g.Kind, g.Title)
	}
	if err := t.Flush(); err != nil {
		return err
	}
	p := console.NewPrinter(w)
	p.Line("")
	p.Wrap("", "A slider loads the nerve at one joint while another eases it, a tensioner loads it at both; single: one joint, or the fingers, move alone.")
	return p.Err
}

func showGlide(w io.Writer, g glides.Glide) error {
	p := console.NewPrinter(w)
	p.Line("%s: %s", g.Name, g.Title)
	if g.Review != "" {
		p.Wrap("", "Note: "+g.Review)
	}
	for _, text := range cautions.OfGlide(g) {
		p.Wrap("", "Caution: "+text)
	}
	if g.Neck {
		p.Wrap("", "Ask first: "+cautions.AskNeck+".")
	}
	p.Line("")
	p.Field("nerve", g.Nerve)
	p.Field("kind", g.Kind)
	p.Field("side", "the side that the session names; the other arm rests")
	p.Posture(g.Posture)
	p.Field("start", g.Start)
	p.Field("out", g.Out)
	p.Field("back", g.Back)
	p.Field("pause", pauseWords(g.BothEnds))
	p.Line("")
	p.Line("Watch:")
	for _, w := range g.Watch {
		p.Wrap("- ", w)
	}
	return p.Err
}

func pauseWords(bothEnds bool) string {
	if bothEnds {
		return "under a second at both ends of the movement; never a hold"
	}
	return "under a second at the end of the movement out; never a hold"
}
