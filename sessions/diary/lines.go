//go:build !js

package diary

import (
	"bytes"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"glidepace/sessions/plaintext"
	"glidepace/sessions/safefile"
)

// A web page gives its diary as text: each session in a line, in JSON, with its events.
// To be merged, a diary is made of it.

const (
	largestText = 64 << 20 // bytes; a year of a patient has a sixth of it
	longestLine = 1 << 20  // a session of an hour has a tenth of it
)

// isText reports whether the file at path begins as such text does.
func isText(path string) bool {
	f, err := safefile.Open(path)
	if err != nil {
		return false
	}
	defer f.Close()
	start, _ := io.ReadAll(io.LimitReader(f, 64))
	return bytes.HasPrefix(bytes.TrimSpace(withoutMark(start)), []byte("{"))
}

// withoutMark returns text without the byte order mark that some programs add.
func withoutMark(text []byte) []byte { return bytes.TrimPrefix(text, []byte("\uFEFF")) }

// copyLines makes the copy of a diary of what a page gave.
func (m *merge) copyLines(text []byte) error {
	d, err := Options{Card: true, passing: true}.Open(m.copyAt())
	if err != nil {
		return err
	}
	m.lineOf = make(map[string]int)
	number := 0
	err = d.atomically(func(tx *sql.Tx) error {
		for line := range bytes.Lines(withoutMark(text)) {
			number++
			if line = bytes.TrimSpace(line); len(line) == 0 {
				continue
			}
			s, err := readLine(line)
			if before := m.lineOf[s.ID]; err == nil && before > 0 {
				err = fmt.Errorf("this session is in line %d too", before)
			}
			if err != nil {
				return &RowError{m.path, s.ID, number, err.Error()}
			}
			m.lineOf[s.ID] = number
			if err := insertRead(tx, s); err != nil {
				return err
			}
		}
		return nil
	})
	return errors.Join(err, d.Close())
}

// readLine reads a session. Whether its values are such as can be is seen once they are
// in a diary.
func readLine(line []byte) (s Session, err error) {
	switch {
	case len(line) > longestLine:
		return s, errors.New("it is longer than " + safefile.Size(longestLine))
	case !utf8.Valid(line):
		return s, errors.New("it is not text in UTF-8")
	}
	if err := json.Unmarshal(line, &s); err != nil {
		return s, fmt.Errorf("it cannot be read: %w", err)
	}
	switch {
	case s.Source != OnPage:
		return s, fmt.Errorf("source: %.40q; allowed is %q, for what a page gave", s.Source, OnPage)
	case len(s.Events) == 0: // as where somebody exported sessions without them
		return s, errors.New("it has no events")
	}
	texts := []string{s.ID, s.Title, s.Patient, s.Prescription, s.Date, s.Match, s.Sound}
	for _, e := range s.Events {
		texts = append(texts, string(e.Kind), e.Side, e.Detail)
	}
	for _, text := range texts {
		if at := strings.IndexFunc(text, plaintext.Hidden); at >= 0 {
			c, _ := utf8.DecodeRuneInString(text[at:])
			return s, fmt.Errorf("%.40q holds the hidden character %U", text, c)
		}
	}
	s.gather(s.Events, nil)
	for _, n := range s.Notes {
		if err := CheckNote(n.Text); err != nil {
			return s, err
		}
	}
	return s, nil
}

// insertRead writes a session that was read from a line. What was said after it gets
// numbers as [Diary.later] gives them.
func insertRead(tx *sql.Tx, s Session) error {
	var own, later []Event
	for _, e := range s.Events {
		if slices.Contains(saidAfter, any(string(e.Kind))) {
			later = append(later, e)
		} else {
			own = append(own, e)
		}
	}
	if _, err := insertSession(tx, &s, own); err != nil {
		return err
	}
	last := int64(len(own)) - 1
	for _, e := range later {
		var at time.Time // zero if not known
		if m, ok := detail[morning](e); ok && e.Kind == Morning {
			at = m.Said
		}
		if n, ok := detail[Note](e); ok && e.Kind == Noted {
			at = n.Written
		}
		last = numberLater(at, last)
		if err := insertEvent(tx, s.ID, last, e); err != nil {
			return err
		}
	}
	return s.setEnd(tx)
}
