package main

import (
	"errors"
	"fmt"
	"path/filepath"

	"github.com/spf13/cobra"

	"glidepace/devices/box/loan"
	"glidepace/sessions/diary"
)

// withCure adds to an error what the person can do about it on the command line.
func withCure(cmd *cobra.Command, err error) error {
	if id, ok := errors.AsType[*diary.IDError](err); ok && id.Unknown() {
		return fmt.Errorf("%w; glidepace diary list shows which are", err)
	}
	if cmd.Name() == "back" && errors.As(err, new(*diary.NoDiaryError)) {
		return fmt.Errorf("%w; give the diary that glidepace box load wrote the loan into, with --into FILE", err)
	}
	if flag := cmd.Flag("diary"); flag != nil && !flag.Hidden && errors.As(err, new(*diary.NoDiaryError)) {
		return fmt.Errorf("%w; another file is named with --diary FILE", err)
	}
	if conflict, ok := errors.AsType[*diary.ConflictError](err); ok {
		return fmt.Errorf("%w, and compare what each has with glidepace diary show %s --diary FILE", err, conflict.ID)
	}
	if place, ok := errors.AsType[*diary.PlaceError](err); ok {
		for _, name := range []string{"diary", "into"} {
			flag := cmd.Flag(name)
			if flag == nil || flag.Hidden {
				continue
			}
			file, wrong := filepath.Abs(diaryPath(flag.Value.String()))
			if wrong == nil && file == place.Path { // else it is about another diary, such as a card's
				return fmt.Errorf("%w; to use another file, name it with --%s FILE", err, name)
			}
		}
	}
	return withLoanCure(err)
}

// withLoanCure does the same for the loan of a box.
func withLoanCure(err error) error {
	if notBack, ok := errors.AsType[*loan.NotBackError](err); ok {
		return fmt.Errorf("%w: bring it back first, with glidepace box back --from %s --into DIARY", err, notBack.Folder)
	}
	if errors.As(err, new(*loan.UnknownLoanError)) {
		return fmt.Errorf("%w: give the diary that glidepace box load wrote the loan into, with --into FILE; if another computer loaded the card, or an older glidepace, add --loaded-elsewhere", err)
	}
	if errors.As(err, new(*loan.BoxOutError)) {
		return fmt.Errorf("%w. Nothing was loaded. If that is the box you have, bring its card back first with glidepace box back; if it is not, give the file of the right box with --box; to lend it again all the same, add --lend-again", err)
	}
	if errors.As(err, new(*loan.OtherBoxError)) {
		return fmt.Errorf("%w: leave out --box to keep the card's box file, or give --replace-box to replace it", err)
	}
	if out, ok := errors.AsType[*diary.StillOutError](err); ok {
		return fmt.Errorf("%w: take it back with glidepace box back, or say that it is lost with glidepace box lost %q", err, out.Loan.Box)
	}
	if lost, ok := errors.AsType[*loan.LostError](err); ok && lost.MayBe == "" {
		return fmt.Errorf("%w; if nothing can be found, go on with --without-diary", err)
	}
	if errors.As(err, new(*diary.RowError)) {
		return fmt.Errorf("%w: the file was damaged, or changed by hand. Have this value put right, or move the diary to a safe place and go on with --without-diary", err)
	}
	return err
}
