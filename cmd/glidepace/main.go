// Command glidepace paces nerve glides at home: it reads the session file that
// a clinician wrote, lays it out in time and plays it in sound and on screen,
// and keeps a diary of what was done.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log"
	"os"
	"os/signal"
	"strings"
	"syscall"

	"github.com/spf13/cobra"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/devices/keyboard"
	"glidepace/sessions"
)

func main() { os.Exit(run(os.Args[1:], os.Stdin, os.Stdout, os.Stderr)) }

// run is the whole program except the exit.
func run(args []string, stdin io.Reader, stdout, stderr io.Writer) int {
	log.SetOutput(io.Discard) // decoders of sound write there; what matters comes as an error
	root := newRoot()
	root.SetArgs(args)
	root.SetIn(stdin)
	root.SetOut(stdout)
	root.SetErr(stderr)
	cmd, err := root.ExecuteC()
	err = withCure(cmd, err)
	stderr = cmd.ErrOrStderr()
	defer console.Flush(cmd.OutOrStdout(), stderr)

	var exit console.ExitError
	var file *sessions.Error
	var usage console.UsageError
	switch {
	case err == nil:
		return console.ExitDone
	case errors.As(err, &exit):
		return int(exit)
	case errors.As(err, &file):
		console.SayError(stderr, "", err)
		return console.ExitUsage
	case errors.As(err, &usage):
		console.SayError(stderr, console.NoteLead, err)
		return console.ExitUsage
	}
	console.SayError(stderr, console.NoteLead, err)
	return console.ExitFailed
}

const (
	helpWidth    = 80
	longLastWord = 5 // by which a line of an option may be longer than it is told
)

func newRoot() *cobra.Command {
	root := &cobra.Command{
		Use:   "glidepace",
		Short: "Pace nerve glides at home as a clinician prescribed them",
		Long: `glidepace paces nerve glides at home: slow arm movements that a clinician
prescribed and taught, done in time with the breath. It plays the session that a
session file describes, in sound and on screen, and keeps a diary.`,
		Example: `  glidepace draft                       write a session file
  glidepace check first-week.yaml       what a session file adds up to
  glidepace pace first-week.yaml        do the session
  glidepace render first-week.yaml -o first-week.mp3
  glidepace diary list                  what was done`,
		Version:       readBuild().Version,
		SilenceErrors: true,
		SilenceUsage:  true,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) > 0 {
				if err := fileInstead(args[0]); err != nil {
					return err
				}
			}
			return cobra.NoArgs(cmd, args)
		},
		RunE: func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	root.CompletionOptions.HiddenDefaultCmd = true
	root.SetUsageTemplate(strings.ReplaceAll(root.UsageTemplate(), "Flags.FlagUsages", fmt.Sprintf("Flags.FlagUsagesWrapped %d", helpWidth-longLastWord)))
	root.SetFlagErrorFunc(func(cmd *cobra.Command, err error) error {
		return console.Usagef("%w; see %s --help", err, cmd.CommandPath())
	})
	root.AddCommand(draftCommand(), checkCommand(), timelineCommand(), paceCommand(), renderCommand(), handoutCommand(), pageCommand(), glidesCommand(), diaryCommand(), countCommand(), tuneCommand(), reviewCommand(), boxCommand(), versionCommand())
	wrapArgs(root)
	addCompletions(root)
	return root
}

// untilSignal is for commands that must tidy up before they end. The first signal
// to end the program ends the command's context; a second one ends the program at
// once. When the program goes on after Ctrl-Z, it takes the keys again.
func untilSignal(run func(cmd *cobra.Command, args []string) error) func(cmd *cobra.Command, args []string) error {
	return func(cmd *cobra.Command, args []string) error {
		ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM, syscall.SIGHUP)
		defer stop()
		context.AfterFunc(ctx, stop)
		defer onContinue(keyboard.TakeBack)()
		cmd.SetContext(ctx)
		return run(cmd, args)
	}
}

// unblock gives a command output that never makes it wait: what it does is worth
// more than what it says. A command whose output is all it does waits.
func unblock(cmd *cobra.Command) {
	cmd.SetOut(console.Unblock(cmd.OutOrStdout()))
	cmd.SetErr(console.Unblock(cmd.ErrOrStderr()))
}

// similarCommand asks whether a similar command is meant, if there is one.
func similarCommand(cmd *cobra.Command, args []string) string {
	if !cmd.HasSubCommands() || len(args) == 0 {
		return ""
	}
	cmd.SuggestionsMinimumDistance = 2 // at most two letters wrong
	similar := cmd.SuggestionsFor(args[0])
	if len(similar) == 0 {
		return ""
	}
	return fmt.Sprintf(" (did you mean %s?)", strings.Join(similar, " or "))
}

// wrapArgs turns wrong arguments into a usage error with a hint, for a command and
// its subcommands.
func wrapArgs(c *cobra.Command) {
	if check := c.Args; check != nil {
		c.Args = func(cmd *cobra.Command, args []string) error {
			var told console.UsageError
			err := check(cmd, args)
			if errors.As(err, &told) {
				return err
			}
			if err != nil {
				return console.Usagef("%w%s; see %s --help", err, similarCommand(cmd, args), cmd.CommandPath())
			}
			return nil
		}
	}
	for _, below := range c.Commands() {
		wrapArgs(below)
	}
}
