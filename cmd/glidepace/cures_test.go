package main

import (
	"errors"
	"fmt"
	"path/filepath"
	"testing"

	"github.com/spf13/cobra"

	"glidepace/sessions/diary"
)

func TestCures(t *testing.T) {
	t.Setenv("XDG_STATE_HOME", t.TempDir())
	file, err := filepath.Abs("my.db")
	if err != nil {
		t.Fatal(err)
	}
	const list, named = "; glidepace diary list shows which are", "; to use another file, name it with --"
	for _, c := range []struct {
		flag, value string
		err         error
		cure        string
	}{
		{"diary", "", errors.New("the disk is full"), ""},
		{"diary", "", &diary.IDError{Given: "abcd"}, list},
		{"diary", "", &diary.IDError{Given: "ab"}, ""},
		{"diary", "", &diary.IDError{Given: "abcd", Matches: []string{"abcd000000", "abcd000001"}}, ""},
		{"diary", "", &diary.ConflictError{ID: "abcd000000"}, ", and compare what each has with glidepace diary show abcd000000 --diary FILE"},
		{"diary", "my.db", &diary.PlaceError{Path: file}, named + "diary FILE"},
		{"diary", "", &diary.PlaceError{Path: diary.DefaultPath()}, named + "diary FILE"},
		{"into", "my.db", &diary.PlaceError{Path: file}, named + "into FILE"},
		{"into", "my.db", &diary.PlaceError{Path: "/card/diary.db"}, ""},
		{"from", "my.db", &diary.PlaceError{Path: file}, ""},
	} {
		cmd := &cobra.Command{}
		cmd.Flags().String(c.flag, c.value, "")
		wrapped := fmt.Errorf("nothing was wiped: %w", c.err)
		if got := withCure(cmd, wrapped); got.Error() != wrapped.Error()+c.cure || !errors.Is(got, c.err) {
			t.Errorf("--%s %s: %q, want the cure %q", c.flag, c.value, got, c.cure)
		}
	}
}
