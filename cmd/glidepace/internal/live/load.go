package live

import (
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"unicode/utf8"

	"github.com/agext/levenshtein"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/pacer"
	"glidepace/sessions"
	"glidepace/sessions/safefile"
)

// Load reads a session file and lays it out. Its *sessions.Error has everything
// that is wrong with the file.
func Load(name string) (*pacer.Timeline, error) {
	f, err := safefile.Open(name)
	if err != nil {
		return nil, OpenError(name, err)
	}
	defer f.Close()
	return Read(name, f)
}

// Read is Load for a file that is read from r.
func Read(name string, r io.Reader) (*pacer.Timeline, error) {
	s, err := sessions.Parse(name, r)
	if s == nil {
		return nil, err
	}
	t, limits := pacer.New(s)
	_, language := Language(name, s)
	if err := sessions.Join(name, err, limits, language); err != nil {
		return nil, err
	}
	return t, nil
}

// OpenError returns the usage error for a file that cannot be opened.
func OpenError(name string, err error) error {
	if !errors.Is(err, os.ErrNotExist) {
		return console.Usagef("%w", err)
	}
	if similar := similarFile(name); similar != "" {
		return console.Usagef("there is no file %q here (did you mean %q?)", name, similar)
	}
	return console.Usagef("there is no file %q here", name)
}

// similarFile returns the file of the same folder that name is likely to stand for: the
// same but for case and the end, or with up to two letters wrong or one in five, and
// fewer than half; "" where there is none.
func similarFile(name string) (similar string) {
	entries, _ := os.ReadDir(filepath.Dir(name)) // no folder, no file
	stem := func(name string) string {
		name = strings.ToLower(filepath.Base(name))
		return strings.TrimSuffix(strings.TrimSuffix(name, ".yaml"), ".yml")
	}
	letters := utf8.RuneCountInString(stem(name))
	least := 1 + min(max(2, letters/5), (letters-1)/2)
	for _, e := range entries {
		if d := levenshtein.Distance(stem(name), stem(e.Name()), nil); d < least && !e.IsDir() {
			similar, least = filepath.Join(filepath.Dir(name), e.Name()), d
		}
	}
	return similar
}

// Problem returns err as a problem of the session file, at the place of a field.
func Problem(file string, s *sessions.Session, field string, err error) error {
	return &sessions.Error{File: file, Problems: []sessions.Problem{{Place: s.Place(field), Text: err.Error()}}}
}
