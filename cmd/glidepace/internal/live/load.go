package live

import (
	"errors"
	"io"
	"os"
	"path/filepath"
	"strconv"
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
	if similar := similarFiles(name); 0 < len(similar) && len(similar) <= mostSimilar {
		return console.Usagef("there is no file %q here (did you mean %s?)", name, strings.Join(similar, " or "))
	}
	return console.Usagef("there is no file %q here", name)
}

const mostSimilar = 3 // more are no help

// similarFiles returns, in quotes, the files of the same folder that name is most likely
// to stand for: the same but for case and the end, or with up to two letters wrong or
// one in five, and fewer than half.
func similarFiles(name string) (similar []string) {
	entries, _ := os.ReadDir(filepath.Dir(name)) // no folder, no file
	stem, kind := stemAndKind(name)
	letters := utf8.RuneCountInString(stem)
	least := min(max(2, letters/5), (letters-1)/2)
	for _, e := range entries {
		s, k := stemAndKind(e.Name())
		d := levenshtein.Distance(stem, s, nil)
		if e.IsDir() || k != kind || d > least {
			continue
		}
		if d < least {
			similar, least = nil, d
		}
		similar = append(similar, strconv.Quote(filepath.Join(filepath.Dir(name), e.Name())))
	}
	return similar
}

// stemAndKind divides the name of a file in small letters. Without an end it is taken
// for a session file.
func stemAndKind(name string) (stem, kind string) {
	name = strings.ToLower(filepath.Base(name))
	kind = filepath.Ext(name)
	stem = strings.TrimSuffix(name, kind)
	if kind == "" || kind == ".yml" {
		kind = ".yaml"
	}
	return stem, kind
}

// Problem returns err as a problem of the session file, at the place of a field.
func Problem(file string, s *sessions.Session, field string, err error) error {
	return &sessions.Error{File: file, Problems: []sessions.Problem{{Place: s.Place(field), Text: err.Error()}}}
}
