package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"strings"
	"syscall"
	"time"

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"glidepace/devices/screen"
	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/diary"
	"glidepace/sounds"
	"glidepace/sounds/out"
)

// How long the diary may keep a session from beginning and, at the end, the
// program from ending.
const diaryPatience = 3 * time.Second

func paceCommand() *cobra.Command {
	p := &paceRun{}
	cmd := &cobra.Command{
		Use:   "pace FILE",
		Short: "Do a session: hear it, see it, follow it",
		Long: `Paces a session in sound and on screen, and writes it into the diary.

Keys: space pauses at once and goes on; n is enough for this set; q ends the
session. Where the terminal is not a window, or for a screen reader,
--screen lines writes one plain line at each step.`,
		Example: `  glidepace pace first-week.yaml
  glidepace pace first-week.yaml --screen lines --volume 40
  glidepace pace first-week.yaml --yes --sound off`,
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			p.in, p.out, p.err = cmd.InOrStdin(), cmd.OutOrStdout(), cmd.ErrOrStderr()
			return p.pace(cmd.Context(), args[0])
		},
	}
	f := cmd.Flags()
	f.BoolVarP(&p.yes, "yes", "y", false, "begin without asking")
	f.BoolVar(&p.extra, "extra", false, "do the session though it is beyond the dose")
	f.StringVar(&p.sound, "sound", "auto", strings.Join(out.Ways, ", "))
	f.IntVar(&p.volume, "volume", sounds.DefaultVolume, "loudness, 0 to 100")
	f.StringVar(&p.screen, "screen", "auto", "full, lines, off; auto is full on a terminal, else lines")
	f.StringVar(&p.diary, "diary", "", "the diary's `file` (default in the XDG state folder)")
	return cmd
}

// paceRun is one call of pace.
type paceRun struct {
	yes, extra           bool
	sound, screen, diary string
	volume               int
	in                   io.Reader
	out, err             io.Writer
}

func (p *paceRun) pace(ctx context.Context, file string) error {
	if err := errors.Join(
		oneOf("sound", p.sound, out.Ways...),
		oneOf("screen", p.screen, "auto", "full", "lines", "off"),
	); err != nil {
		return err
	}
	if p.volume < 0 || p.volume > 100 {
		return usageError{fmt.Errorf("--volume %d: allowed is 0 to 100", p.volume)}
	}
	if p.diary == "" {
		p.diary = diary.DefaultPath()
	}
	t, err := loadTimeline(file)
	if err != nil {
		return err
	}
	past, err := lookBack(p.diary, t.Session())
	if err != nil {
		fmt.Fprintf(p.err, "glidepace: %v\nThe session can be done; what is not in the diary is printed at its end.\n", err)
	}
	st := standingOf(t.Session().Dose, sessions.DateOf(time.Now()), past.today)
	if err := writeBriefing(p.out, t, st, past.known); err != nil {
		return err
	}
	if err := p.agree(ctx, st); err != nil {
		return err
	}
	return p.session(ctx, t, st)
}

// agree has the person begin the session, or gives the exit code.
func (p *paceRun) agree(ctx context.Context, st standing) error {
	switch {
	case st.beyond != "" && p.yes && !p.extra:
		fmt.Fprintln(p.err, "glidepace: this session would be beyond the dose; --extra does it all the same")
		return exitError(exitEarly)
	case p.yes:
		return nil
	case st.beyond != "" && !p.extra:
		answer, err := ask(ctx, p.in, p.out, "Do a session all the same? y and Enter: yes; Enter: no. ")
		if err == nil && strings.HasPrefix(strings.ToLower(answer), "y") {
			return nil
		}
		fmt.Fprintln(p.out, "Not begun.")
		return exitError(exitEarly)
	}
	for {
		answer, err := ask(ctx, p.in, p.out, "Enter: begin.  c and Enter: all cautions.  q and Enter: not now. ")
		switch {
		case err != nil || strings.EqualFold(answer, "q"):
			fmt.Fprintln(p.out, "Not begun.")
			return exitError(exitEarly)
		case answer == "":
			return nil
		case strings.EqualFold(answer, "c"):
			writeCautions(p.out)
		}
	}
}

// ask reads one line. It takes no byte beyond it: what follows are keys.
func ask(ctx context.Context, in io.Reader, out io.Writer, question string) (string, error) {
	fmt.Fprint(out, question)
	type answer struct {
		text string
		err  error
	}
	got := make(chan answer, 1)
	go func() {
		var line []byte
		for b := make([]byte, 1); ; {
			n, err := in.Read(b)
			if n == 1 && b[0] == '\n' {
				got <- answer{text: strings.TrimSpace(string(line))}
				return
			}
			line = append(line, b[:n]...)
			if err != nil {
				got <- answer{err: err}
				return
			}
		}
	}()
	select {
	case a := <-got:
		if a.err != nil {
			fmt.Fprintln(out)
		}
		return a.text, a.err
	case <-ctx.Done():
		fmt.Fprintln(out)
		return "", ctx.Err()
	}
}

// session runs the session itself.
func (p *paceRun) session(ctx context.Context, t *pacer.Timeline, st standing) error {
	signal.Ignore(syscall.SIGPIPE) // a reader of the lines may go; the session does not
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()

	notes := &notes{w: p.err}
	output, err := out.Open(p.sound, func(lost error) {
		if lost != nil {
			notes.add("the sound is lost: %v; the session goes on", lost)
		} else {
			notes.add("the sound is back")
		}
	})
	if err != nil {
		notes.add("%v; the session goes on without it", err)
	}
	defer output.Close()

	commands := make(chan pacer.Command)
	c := &pacer.Conductor{Sound: sounds.NewLive(output, p.volume)}
	if output.Name() != "off" {
		c.Tail = sounds.Tail
	}
	show, err := p.openScreen(ctx, c, commands, notes)
	if err != nil {
		return err
	}
	record := diary.Record(p.diary, newEntry(t, output.Name(), st.beyond != ""), diaryPatience, func(err error) {
		notes.add("%v", err)
	})
	c.Followers = append(c.Followers, &diarist{record: record})

	result := c.Run(ctx, t, commands)
	cancel()
	show.close()

	closing, stop := context.WithTimeout(context.Background(), diaryPatience)
	defer stop()
	kept := record.Close(closing)
	notes.show()
	fmt.Fprintln(p.out, doneWords(t, result))
	var lost *diary.UnwrittenError
	if errors.As(kept, &lost) {
		fmt.Fprintf(p.err, "glidepace: %v\nPlease write this down:\n%s", lost, lost.Session)
	}
	if result.Outcome != pacer.Completed {
		return exitError(exitEarly)
	}
	return nil
}

// doneWords says in one line what was done.
func doneWords(t *pacer.Timeline, r pacer.Result) string {
	lead := "Done"
	if r.Outcome != pacer.Completed {
		lead = "Ended early"
	}
	return fmt.Sprintf("%s: %d of %s in %s. Let the arm hang loose.",
		lead, r.Done.Repetitions, count(t.Repetitions, "repetition"), pacer.Clock(r.Length.Seconds()))
}

// shown is an open screen, or none.
type shown struct{ close func() }

// openScreen opens the screen that is asked for and lets it follow c.
func (p *paceRun) openScreen(ctx context.Context, c *pacer.Conductor, commands chan<- pacer.Command, notes *notes) (shown, error) {
	way := p.screen
	if way == "auto" {
		way = "lines"
		if isTerminal(p.in) && isTerminal(p.out) && os.Getenv("TERM") != "dumb" {
			way = "full"
		}
	}
	if way == "full" {
		full := screen.NewFull(p.in, p.out, os.Getenv("NO_COLOR") == "", commands)
		c.Followers = append(c.Followers, full)
		notes.hold()
		ctx, cancel := context.WithCancel(ctx)
		over := make(chan error, 1)
		go func() { over <- full.Run(ctx) }()
		return shown{func() {
			cancel()
			if err := <-over; err != nil {
				notes.add("%v", err)
			}
		}}, nil
	}
	if way == "lines" {
		c.Followers = append(c.Followers, screen.NewLines(p.out))
	}
	keys, err := screen.NewKeys(p.in, commands)
	if err != nil {
		return shown{}, err
	}
	return shown{func() { keys.Close() }}, nil
}

func isTerminal(stream any) bool {
	f, ok := stream.(*os.File)
	return ok && term.IsTerminal(int(f.Fd()))
}
