package main

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/spf13/cobra"
)

var manual = flag.String("manual", "", "a folder to keep the manual pages and the completions of shells in")

// The help of every command is a manual page, and all shells get their completions.
func TestManual(t *testing.T) {
	folder := *manual
	if folder == "" {
		folder = t.TempDir()
	}
	root := newRoot()
	writePages(t, root, folder)
	for name, write := range map[string]func(string) error{
		"bash": func(name string) error { return root.GenBashCompletionFileV2(name, true) },
		"zsh":  root.GenZshCompletionFile,
		"fish": func(name string) error { return root.GenFishCompletionFile(name, true) },
	} {
		if err := write(filepath.Join(folder, name)); err != nil {
			t.Error(err)
		}
	}
	page, err := os.ReadFile(filepath.Join(folder, "glidepace-tune.1"))
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{".SH NAME\nglidepace\\-tune \\- ", "\n  s, f     slower (", "\n.IP \\- 2\nonce comfort has fallen by 2;\n", "\n.br\nA change begins", "\\-\\-steps", ".SH EXAMPLES\n"} {
		if !strings.Contains(string(page), want) {
			t.Errorf("the page of tune has no %q", want)
		}
	}
}

// writePages writes the page of a command and those of its subcommands.
func writePages(t *testing.T, cmd *cobra.Command, folder string) {
	cmd.InitDefaultHelpFlag()
	name := strings.ReplaceAll(cmd.CommandPath(), " ", "-")
	var page strings.Builder
	section := func(title, text string) { fmt.Fprintf(&page, ".SH %s\n%s\n", title, text) }
	kept := func(title, text string) {
		if text != "" {
			section(title, ".nf\n"+strings.TrimRight(roff(text), "\n")+"\n.fi")
		}
	}
	fmt.Fprintf(&page, ".TH %s 1 \"\" glidepace \"glidepace\"\n.nh\n.ad l\n", roff(strings.ToUpper(name)))
	section("NAME", roff(name+" - "+cmd.Short))
	if cmd.HasSubCommands() {
		section("SYNOPSIS", cmd.CommandPath()+" COMMAND")
	} else {
		section("SYNOPSIS", roff(cmd.UseLine()))
	}
	section("DESCRIPTION", filled(cmd.Long))
	var commands strings.Builder
	for _, below := range cmd.Commands() {
		if below.IsAvailableCommand() {
			fmt.Fprintf(&commands, "  %-*s %s\n", len(name)+13, name+"-"+below.Name()+"(1)", below.Short)
			writePages(t, below, folder)
		}
	}
	kept("COMMANDS", commands.String())
	kept("OPTIONS", cmd.LocalFlags().FlagUsagesWrapped(helpWidth-10))
	kept("MORE OPTIONS", cmd.InheritedFlags().FlagUsagesWrapped(helpWidth-10))
	kept("EXAMPLES", cmd.Example)
	if cmd.HasParent() {
		section("SEE ALSO", roff(strings.ReplaceAll(cmd.Parent().CommandPath(), " ", "-")+"(1)"))
	}
	if err := os.WriteFile(filepath.Join(folder, name+".1"), []byte(page.String()), 0o644); err != nil {
		t.Fatal(err)
	}
}

// filled lets paragraphs and the points of a list be filled, and keeps the lines of
// tables, which are indented.
func filled(text string) string {
	var b strings.Builder
	point, row := false, false // what the line before belongs to
	for line := range strings.Lines(text) {
		indented := strings.HasPrefix(line, " ")
		item, dashed := strings.CutPrefix(line, "- ")
		switch {
		case line == "\n":
			line = ""
			b.WriteString(".PP\n")
		case dashed:
			line = item
			b.WriteString(".IP \\- 2\n")
		case point && indented:
			line = strings.TrimLeft(line, " ")
		case point:
			b.WriteString(".PP\n")
		case row && !indented:
			b.WriteString(".br\n")
		}
		point, row = dashed || point && indented, indented && !point
		b.WriteString(roff(line))
	}
	return strings.TrimRight(b.String(), "\n")
}

// roff escapes what roff would take as its own.
func roff(text string) string {
	text = strings.NewReplacer(`\`, `\e`, "-", `\-`).Replace(text)
	var b strings.Builder
	for line := range strings.Lines(text) {
		if strings.HasPrefix(line, ".") || strings.HasPrefix(line, "'") {
			b.WriteString(`\&`)
		}
		b.WriteString(line)
	}
	return b.String()
}
