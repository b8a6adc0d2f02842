package main

import (
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"glidepace/sessions"
	"glidepace/sessions/glides"
	"glidepace/sounds/out"
)

// addCompletions says what a shell offers where a command takes an argument or a flag
// takes a value, for a command and its subcommands. Where nothing is said here, a
// shell offers files.
func addCompletions(cmd *cobra.Command) {
	cmd.ValidArgsFunction = argumentCompletion(cmd)
	cmd.LocalFlags().VisitAll(func(f *pflag.Flag) {
		if complete := flagCompletion(cmd, f); complete != nil {
			cmd.RegisterFlagCompletionFunc(f.Name, complete) // --format may have its own already
		}
	})
	for _, below := range cmd.Commands() {
		addCompletions(below)
	}
}

// argumentCompletion goes by the name that the usage has for the argument.
func argumentCompletion(cmd *cobra.Command) cobra.CompletionFunc {
	_, usage, _ := strings.Cut(cmd.Use, " ")
	var complete cobra.CompletionFunc
	switch name := strings.Trim(strings.SplitN(usage, " ", 2)[0], "[.]"); {
	case cmd.Name() == "glides":
		complete = oneOfThese(glides.Names()...)
	case name == "FILE", name == "SESSION", strings.HasSuffix(name, ".yaml"):
		complete = filesOf("yaml", "yml")
	case name == "OTHER", strings.HasPrefix(name, "DIARY"):
		complete = filesOf("db", "jsonl")
	default:
		return cobra.NoFileCompletions
	}
	return func(cmd *cobra.Command, args []string, begun string) ([]cobra.Completion, cobra.ShellCompDirective) {
		if len(args) > 0 && !strings.Contains(usage, "...") {
			return nil, cobra.ShellCompDirectiveNoFileComp
		}
		return complete(cmd, args, begun)
	}
}

// flagCompletion goes by the name of the flag, and by what its help calls the value.
func flagCompletion(cmd *cobra.Command, f *pflag.Flag) cobra.CompletionFunc {
	value, _ := pflag.UnquoteUsage(f)
	switch {
	case f.Name == "format":
		return oneOfThese("text", "json")
	case f.Name == "sound":
		return oneOfThese(out.Ways...)
	case f.Name == "screen" && cmd.Name() == "draft":
		return oneOfThese("auto", "full", "lines")
	case f.Name == "screen":
		return oneOfThese("auto", "full", "lines", "off")
	case f.Name == "parts":
		return oneOfThese(sessions.PartNames...)
	case f.Name == "motion":
		return oneOfThese("full", "less")
	case f.Name == "posture":
		return oneOfThese(sessions.Postures()...)
	case f.Name == "match":
		return oneOfThese(sessions.ExhaleOnGlide.String(), sessions.BreathPerRep.String())
	case f.Name == "paper":
		return oneOfThese(papers...)
	case f.Name == "glide":
		return oneOfThese(glides.Names()...)
	case f.Name == "side" && cmd.Name() == "draft":
		return oneOfThese("right", "left", "both")
	case f.Name == "side":
		return oneOfThese("right", "left")
	case f.Name == "part":
		return oneOfThese(serviceParts...)
	case f.Name == "box", f.Name == "buzzer", f.Name == "file":
		return filesOf("yaml", "yml")
	case value == "folder":
		return func(*cobra.Command, []string, string) ([]cobra.Completion, cobra.ShellCompDirective) {
			return nil, cobra.ShellCompDirectiveFilterDirs
		}
	case value != "file" && strings.ToLower(value) != "name" && value != "path":
		return cobra.NoFileCompletions
	}
	return nil
}

func oneOfThese(values ...string) cobra.CompletionFunc {
	return cobra.FixedCompletions(values, cobra.ShellCompDirectiveNoFileComp)
}

func filesOf(extensions ...string) cobra.CompletionFunc {
	return cobra.FixedCompletions(extensions, cobra.ShellCompDirectiveFilterFileExt)
}
