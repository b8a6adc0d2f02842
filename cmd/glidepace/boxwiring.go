package main

import (
	"context"
	"fmt"
	"io"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/cmd/glidepace/internal/selftest"
	"glidepace/devices/box"
	"glidepace/sessions/cautions"
)

func boxWiringCommand() *cobra.Command {
	var form string
	var unattended bool
	cmd := &cobra.Command{
		Use:   "wiring [BOX.yaml]",
		Short: "Print how a box is wired, and test it with a person",
		Long: `Prints which part of the box is wired to which pin, through what, and what to
take care of when building or lending one. --format svg is the diagram.

Given a box file, on a terminal, it then offers the self-test: every buzz, every
rhythm of the light, the button and the sound, each confirmed by a person; then
the kernel, the clock and the diary's folder.

--unattended prints no table and tests what needs no person: the pins can be
taken and switched; the kernel is not told to keep them on when the program is
killed; the button is not pressed; there is a way out for the sound; the clock
is right; the diary's folder takes a file of 4 MB.

On the box, stop the service and test as its user:
sudo -u glidepace glidepace box wiring BOX.yaml

The exit code is 1 if any part failed, 3 if the test was ended early.`,
		Example: `  glidepace box wiring
  glidepace box wiring box.yaml --format svg > box.svg
  glidepace box wiring box.yaml --unattended --format json`,
		Args: cobra.MaximumNArgs(1),
		RunE: untilSignal(func(cmd *cobra.Command, args []string) error {
			if err := oneOf("format", form, "text", "json", "svg"); err != nil {
				return err
			}
			if unattended && (len(args) == 0 || form == "svg") {
				return console.Usagef("--unattended: name the box file to test, with --format text or json")
			}
			b := &box.Default
			if len(args) > 0 {
				var err error
				if b, err = loadBox(args[0]); err != nil {
					return err
				}
			}
			in, out := cmd.InOrStdin(), cmd.OutOrStdout()
			switch {
			case unattended:
				found := selftest.Run(cmd.Context(), b, filepath.Dir(args[0]), nil)
				return writeFindings(out, found, form, cmd.Context().Err())
			case form == "svg":
				_, err := out.Write(b.Diagram())
				return err
			case form == "json":
				return console.WriteJSON(out, wiringReport{b.Name, b.Wiring(), box.Parts, cautions.Lending})
			}
			if err := writeWiring(out, b); err != nil || len(args) == 0 || !console.IsTerminal(in) || !console.IsTerminal(out) {
				return err
			}
			return testWithPerson(cmd.Context(), b, filepath.Dir(args[0]), in, out)
		}),
	}
	formatFlag(cmd, &form, "text", "json", "svg")
	cmd.Flags().BoolVar(&unattended, "unattended", false, "test what needs no person, and print what was found")
	return cmd
}

type wiringReport struct {
	Name     string     `json:"name,omitempty"`
	Wires    []box.Wire `json:"wires"`
	Parts    []string   `json:"parts"`
	Cautions []string   `json:"cautions"`
}

func writeWiring(w io.Writer, b *box.File) error {
	p := console.NewPrinter(w)
	if b.Name != "" {
		p.Line("%s", b.Name)
		p.Line("")
	}
	p.Line("%-8s %-7s %-4s %s", "part", "line", "pin", "to")
	for _, wire := range b.Wiring() {
		p.Wrap(fmt.Sprintf("%-8s %-7s %-4s ", wire.Part, wire.Line, strconv.Itoa(wire.Header)), wire.To)
	}
	p.Line("")
	p.Wrap("", "The pins are those of the 40-pin header. A loudspeaker is not wired here: plug it into USB or the board's own socket.")
	p.Line("")
	for _, part := range box.Parts {
		p.Wrap("- ", part)
	}
	p.Line("")
	p.Line("Take care:")
	for _, c := range cautions.Lending {
		p.Wrap("- ", c)
	}
	return p.Err
}

// testWithPerson offers the self-test and runs it.
func testWithPerson(ctx context.Context, b *box.File, folder string, in io.Reader, out io.Writer) error {
	answer, err := console.Ask(ctx, in, out, "\nSelf-test now, on this box? y or n: ")
	if err != nil || !strings.EqualFold(answer, "y") {
		return nil
	}
	p := console.NewPrinter(out)
	found := selftest.Run(ctx, b, folder, &selftest.Person{
		Ask: func(question string) (string, error) { return console.Ask(ctx, in, out, question) },
		Say: func(text string) { p.Wrap("", text) },
	})
	p.Line("")
	return writeFindings(out, found, "text", ctx.Err())
}

// writeFindings writes what a self-test found. The error is the exit code.
func writeFindings(w io.Writer, found []selftest.Finding, form string, ended error) error {
	failed := false
	for _, f := range found {
		failed = failed || !f.OK
	}
	var err error
	if form == "json" {
		err = console.WriteJSON(w, struct {
			OK    bool               `json:"ok"`
			Found []selftest.Finding `json:"found"`
		}{!failed && ended == nil, found})
	} else {
		p := console.NewPrinter(w)
		for _, f := range found {
			if f.OK {
				p.Wrap("ok      ", f.Part+": "+f.Found)
			} else {
				p.Wrap("FAILED  ", f.Part+": "+f.Found+". "+f.Cure)
			}
		}
		if ended != nil {
			p.Line("Ended early; the rest is not tested.")
		}
		err = p.Err
	}
	switch {
	case err != nil:
		return err
	case ended != nil:
		return console.ExitError(console.ExitEarly)
	case failed:
		return console.ExitError(console.ExitFailed)
	}
	return nil
}
