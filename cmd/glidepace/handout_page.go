package main

import (
	"bytes"
	"cmp"
	"context"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/cmd/glidepace/internal/topdf"
	"glidepace/pacer"
	"glidepace/sessions/handout"
	"glidepace/sessions/safefile"
)

// pageFlags say what page to write.
type pageFlags struct{ name, contact, soundFile, box, paper string }

var papers = []string{"A4", "Letter"}

func (f *pageFlags) add(cmd *cobra.Command) {
	flags := cmd.Flags()
	flags.StringVarP(&f.name, "output", "o", "", "the `name` of the page; its end says what kind it is: .html, .pdf")
	flags.StringVar(&f.contact, "contact", "", "whom the patient calls, such as \"the clinic, 555 0100\" (default: a line to write it on)")
	flags.StringVar(&f.soundFile, "sound-file", "", "the `name` of the sound file to play on the phone")
	flags.StringVar(&f.box, "box", "", "add a page about the box that is lent, the one of this box `file`")
	flags.StringVar(&f.paper, "paper", "", "the paper of a PDF: "+strings.Join(papers, ", ")+" (default: that of the country)")
}

// longestText is how many characters of a flag go onto the page.
const longestText = 200

func (f *pageFlags) pdf() bool { return strings.EqualFold(filepath.Ext(f.name), ".pdf") }

// check refuses what cannot be written, and flags that mean nothing together.
func (f *pageFlags) check(cmd *cobra.Command, session string, force bool) error {
	if f.name == "" {
		for _, flag := range []string{"contact", "sound-file", "box", "paper"} {
			if cmd.Flag(flag).Changed {
				return console.Usagef("--%s is about the page: name it too, such as -o handout.html", flag)
			}
		}
		return nil
	}
	for _, flag := range []string{"contact", "sound-file"} {
		if n := len([]rune(cmd.Flag(flag).Value.String())); n > longestText {
			return console.Usagef("--%s has %d characters; at most %d go onto the page", flag, n, longestText)
		}
	}
	if err := checkOut(f.name, []string{".html", ".pdf"}, session, f.box); err != nil {
		return err
	}
	switch {
	case f.pdf():
		f.paper = cmp.Or(f.paper, paperOfCountry())
		if err := oneOf("paper", f.paper, papers...); err != nil {
			return err
		}
	case f.paper != "":
		return console.Usagef("--paper is for a PDF: an .html page prints on any paper")
	}
	if err := safefile.Check(f.name, force); err != nil { // before a browser is started
		return fileError(err)
	}
	return nil
}

// file returns the page of a session, and what to say about it.
func (f *pageFlags) file(ctx context.Context, t *pacer.Timeline) (outFile, string, error) {
	options := handout.Options{Contact: f.contact, SoundFile: f.soundFile, Paper: f.paper}
	if f.box != "" {
		b, err := loadBox(f.box)
		if err != nil {
			return outFile{}, "", err
		}
		options.Box = boxPage(b, t)
	}
	var page bytes.Buffer
	if err := handout.Write(&page, t, options); err != nil {
		return outFile{}, "", err
	}
	if !f.pdf() {
		return outFile{f.name, page.Bytes()}, f.name + ": open it in a browser and print it.", nil
	}
	browser, err := topdf.Browser()
	if err != nil {
		return outFile{}, "", err
	}
	pdf, err := topdf.Convert(ctx, browser, page.Bytes())
	if ctx.Err() != nil {
		err = errInterrupted
	}
	return outFile{f.name, pdf}, f.name + ": print it, on " + f.paper + " paper.", err
}

// letterCountries print on Letter, all others on A4 (from memory, after Unicode's
// CLDR).
var letterCountries = []string{"US", "CA", "MX", "PH", "PR", "CL", "CO", "CR", "GT", "NI", "PA", "SV", "VE"}

// paperOfCountry is the paper of the country that the locale names, A4 without one.
func paperOfCountry() string {
	locale := cmp.Or(os.Getenv("LC_ALL"), os.Getenv("LC_PAPER"), os.Getenv("LANG"))
	_, country, _ := strings.Cut(locale, "_")
	if len(country) >= 2 && slices.Contains(letterCountries, country[:2]) {
		return "Letter"
	}
	return "A4"
}
