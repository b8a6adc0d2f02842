package loan

import (
	"bytes"
	"errors"
	"io"
	"io/fs"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Trace is something of a loan in a file that is left on a card.
type Trace struct {
	File string `json:"file"` // its path in the card's folder; outside of it the full path
	What string `json:"what"` // such as "the patient code"
	Name bool   `json:"name"` // in the file's name; else in its content
}

// search is what is looked for.
type search []wanted

type wanted struct{ text, what string }

const patientCode = "the patient code"

// What is looked for is not to be found by chance. Texts other than the
// patient code need this many bytes; what is shorter than long is not looked
// for in files with zero bytes, which are programs, pictures and the like.
const shortest, long = 4, 5

func (s *search) add(text, what string) {
	text = strings.TrimSpace(text)
	if text == "" || len(text) < shortest && what != patientCode {
		return
	}
	if w := (wanted{text, what}); !slices.Contains(*s, w) {
		*s = append(*s, w)
	}
}

// looked is what came of looking for traces.
type looked struct {
	files  int      // that were looked through
	traces []Trace  // that were found
	unread []string // files and folders that cannot be read
	cut    bool     // because of a limit not all was looked through
}

// look looks through the names and contents of all files but the excepted ones,
// within limits. What cannot be read, such as the folders that systems keep for
// themselves on a card, is no reason to end: loading wrote nothing there.
func (s search) look(all fs.FS, most limits, except func(name string, e fs.DirEntry) bool) (l looked, err error) {
	var size int64
	err = fs.WalkDir(all, ".", func(name string, e fs.DirEntry, err error) error {
		switch {
		case name == ".":
			return err
		case err != nil:
			l.unread = append(l.unread, name)
			return nil
		case except(name, e):
			if e.IsDir() {
				return fs.SkipDir
			}
			return nil
		}
		l.found(name, s.inName(name), true)
		if !e.Type().IsRegular() {
			return nil
		}
		if info, err := e.Info(); err == nil && most != (limits{}) {
			switch {
			case l.files == most.files:
				l.cut = true
				return fs.SkipAll
			case info.Size() > most.single || size+info.Size() > most.size:
				l.cut = true
				return nil
			}
			size += info.Size()
		}
		texts, err := s.inContent(all, name)
		l.found(name, texts, false)
		if err != nil {
			l.unread = append(l.unread, name)
		} else {
			l.files++
		}
		return nil
	})
	return l, err
}

func (l *looked) found(file string, texts search, inName bool) {
	for _, w := range texts {
		if t := (Trace{file, w.what, inName}); !slices.Contains(l.traces, t) {
			l.traces = append(l.traces, t)
		}
	}
}

// inName returns what stands in a file's path, in small letters or capitals:
// some systems write names in capitals.
func (s search) inName(name string) (found search) {
	for _, w := range s {
		if standsIn([]byte(strings.ToLower(name)), strings.ToLower(w.text)) {
			found = append(found, w)
		}
	}
	return found
}

// inContent returns what stands in a file. It reads the file in pieces that
// overlap by the longest text and what stands beside it.
func (s search) inContent(all fs.FS, name string) (found search, err error) {
	f, err := all.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	overlap := 2 * utf8.UTFMax
	for _, w := range s {
		overlap = max(overlap, len(w.text)+2*utf8.UTFMax)
	}
	const piece = 1 << 20
	buffer := make([]byte, 0, overlap+piece)
	hit := make([]bool, len(s))
	binary := false
	for err == nil {
		var n int
		kept := min(overlap, len(buffer))
		buffer = append(buffer[:0], buffer[len(buffer)-kept:]...)
		n, err = io.ReadFull(f, buffer[kept:kept+piece])
		buffer = buffer[:kept+n]
		binary = binary || bytes.IndexByte(buffer, 0) >= 0
		for i, w := range s {
			hit[i] = hit[i] || standsIn(buffer, w.text)
		}
	}
	if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		err = nil
	}
	for i, w := range s {
		if hit[i] && (len(w.text) >= long || !binary) {
			found = append(found, w)
		}
	}
	return found, err
}

// standsIn reports whether text stands in content, and not as a part of a longer
// word or number.
func standsIn(content []byte, text string) bool {
	inWord := func(r rune) bool { return unicode.IsLetter(r) || unicode.IsDigit(r) }
	for from := 0; ; {
		i := bytes.Index(content[from:], []byte(text))
		if i < 0 {
			return false
		}
		start, end := from+i, from+i+len(text)
		before, _ := utf8.DecodeLastRune(content[:start])
		after, _ := utf8.DecodeRune(content[end:])
		if !inWord(before) && !inWord(after) {
			return true
		}
		from = start + 1
	}
}
