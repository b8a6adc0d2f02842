package main

import (
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/sessions"
	"glidepace/sessions/diary"
	"glidepace/sessions/plaintext"
)

func diaryErase(path *string) *cobra.Command {
	var key diary.Key
	var yes bool
	var form string
	cmd := &cobra.Command{
		Use:   "erase --patient CODE",
		Short: "Erase all that the diary has of a patient, and look for traces",
		Long: `Erases all sessions and loans of a patient code from the diary; with --title,
the sessions of a title that have no code. It says what would go, and asks for
the code or the title once more, in any case. What is erased is gone: there is
no way back.

Then it looks through every byte of the diary's files for the patient code, the
titles and the IDs, and says what it found. Other patients' entries stay as they
are. If it was cut off, run it again: that finishes it, even where the diary no
longer has the code.

It erases from this diary only. Backups, exports, cards and other diaries are
elsewhere: if one of those diaries is merged into this one, the sessions come
back.

While a session runs, or while a box is out with the patient, nothing is erased.`,
		Example: `  glidepace diary erase --patient K-204 --diary clinic.db
  glidepace diary erase --title "First week, right hand"
  glidepace diary erase --patient K-204 --yes --format json > erased.json`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if err := oneOf("format", form, "text", "json"); err != nil {
				return err
			}
			switch {
			case key == (diary.Key{}):
				return console.Usagef("whose sessions? Give --patient CODE, or --title TITLE for sessions without a code")
			case key.Patient != "" && key.Title != "":
				return console.Usagef("--title is for sessions without a patient code: give it or --patient")
			case form == "json" && !yes:
				return console.Usagef("--format json asks nothing: give --yes too")
			}
			d, err := openDiary(*path)
			if err != nil {
				return err
			}
			defer d.Close()
			if key.Patient != "" {
				if key.Patient, _, err = d.PatientCode(key.Patient); err != nil {
					return err
				}
			}
			if !yes {
				if err := agreeToErase(cmd, d, key, diaryPath(*path)); err != nil {
					return err
				}
			}
			e, err := d.Erase(key)
			if err != nil {
				return err
			}
			if form == "json" {
				err = console.WriteJSON(cmd.OutOrStdout(), newErasedReport(key, e))
			} else {
				err = writeErased(cmd.OutOrStdout(), key, e, diaryPath(*path))
			}
			switch {
			case err != nil:
			case len(e.Traces) > 0:
				err = fmt.Errorf("traces may be left in %s: close other programs that use the diary, and erase once more", strings.Join(e.Traces, ", "))
			case nothingOf(e.Erasure):
				err = unknownToErase(d, key, diaryPath(*path))
			}
			return err
		},
	}
	cmd.Flags().StringVar(&key.Patient, "patient", "", "the patient `code`, in any case")
	cmd.Flags().StringVar(&key.Title, "title", "", "the title of sessions that have no patient code")
	cmd.Flags().BoolVar(&yes, "yes", false, "do not ask")
	formatFlag(cmd, &form, "text", "json")
	return cmd
}

// agreeToErase says what would go, and asks for the code or the title. What is not
// there needs no answer.
func agreeToErase(cmd *cobra.Command, d *diary.Diary, key diary.Key, path string) error {
	e, err := d.ToErase(key)
	if err != nil || nothingOf(e) {
		return err
	}
	p := console.NewPrinter(cmd.OutOrStdout())
	p.Wrap("", fmt.Sprintf("To be erased from %s: %s.", path, erasureWords(key, e)))
	for _, l := range e.Loans {
		p.Wrap("- ", fmt.Sprintf("the loan of %s, out %s, due %s", l.Box, sessions.DateOf(l.Out), l.Due))
	}
	p.Line("There is no way back.")
	if p.Err != nil {
		return p.Err
	}
	name := nameOf(key)
	answer, err := console.Ask(cmd.Context(), cmd.InOrStdin(), cmd.OutOrStdout(), fmt.Sprintf("To erase it, type %s: ", name))
	switch {
	case err == nil && strings.EqualFold(answer, name):
		return nil
	case err != nil || answer == "":
		p.Sentence("Nothing was erased: nothing was typed.")
	default:
		p.Sentence(fmt.Sprintf("Nothing was erased: %q is not %s.", plaintext.Line(answer), name))
	}
	return console.ExitError(console.ExitEarly)
}

func nothingOf(e diary.Erasure) bool { return e.Sessions == 0 && len(e.Loans) == 0 }

// unknownToErase says that the diary has nothing of a key, and which codes may be meant.
func unknownToErase(d *diary.Diary, key diary.Key, path string) error {
	similar := ""
	if key.Patient != "" {
		codes, err := d.SimilarCodes(key.Patient)
		if err != nil {
			return err
		}
		similar = didYouMean(codes)
	}
	return fmt.Errorf("%s has nothing of %s%s: nothing was erased", path, nameOf(key), similar)
}

// didYouMean names patient codes that may be meant, "" for none.
func didYouMean(codes []string) string {
	if len(codes) == 0 {
		return ""
	}
	return " (did you mean " + strings.Join(codes, " or ") + "?)"
}

// nameOf returns the code or the title that sessions are erased by.
func nameOf(key diary.Key) string { return plaintext.Line(key.Patient + key.Title) }

// erasureWords says what goes: "24 sessions of K-204, from 2026-11-01 to 2026-12-14, and
// 2 loans".
func erasureWords(key diary.Key, e diary.Erasure) string {
	text := sessions.Count(e.Sessions, "session") + " of " + nameOf(key)
	switch {
	case e.From != e.To:
		text += fmt.Sprintf(", from %s to %s", e.From, e.To)
	case e.From != "":
		text += ", of " + e.From
	}
	if n := len(e.Loans); n > 0 {
		text += ", and " + sessions.Count(n, "loan")
	}
	return text
}

// erasedReport is what was erased, as data.
type erasedReport struct {
	Patient  string   `json:"patient,omitempty"`
	Title    string   `json:"title,omitempty"`
	Sessions int      `json:"sessions"`
	From     string   `json:"from,omitempty"`
	To       string   `json:"to,omitempty"`
	Loans    int      `json:"loans"`
	Files    []string `json:"files"`      // that were looked through
	Looked   int      `json:"looked_for"` // so many texts
	Shared   []string `json:"not_looked_for"`
	Traces   []string `json:"traces"` // files
}

func newErasedReport(key diary.Key, e diary.Erased) erasedReport {
	return erasedReport{
		Patient: key.Patient, Title: key.Title, Sessions: e.Sessions, From: e.From, To: e.To, Loans: len(e.Loans),
		Files: append([]string{}, e.Files...), Looked: e.Looked, Shared: append([]string{}, e.Shared...), Traces: append([]string{}, e.Traces...),
	}
}

func writeErased(w io.Writer, key diary.Key, e diary.Erased, path string) error {
	p := console.NewPrinter(w)
	if nothingOf(e.Erasure) {
		return nil // the error says so
	}
	p.Wrap("", fmt.Sprintf("Erased from %s: %s.", path, erasureWords(key, e.Erasure)))
	var names []string
	for _, f := range e.Files {
		names = append(names, filepath.Base(f))
	}
	if len(e.Traces) == 0 && e.Looked > 0 {
		p.Wrap("", fmt.Sprintf("No trace is left in the diary's files. Looked for %s in every byte of %s.",
			sessions.Count(e.Looked, "text"), strings.Join(names, ", ")))
	}
	if len(e.Shared) > 0 {
		p.Wrap("", "Not looked for by itself, because other entries hold the same letters or it is too short: "+strings.Join(e.Shared, "; ")+". Each session was looked for by its ID.")
	}
	p.Wrap("", "Not looked at: backups, exports, cards and other diaries. If one of those diaries is merged into this one, the sessions come back. The disk may keep traces in its free space.")
	return p.Err
}
