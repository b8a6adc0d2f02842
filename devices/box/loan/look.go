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
type search []trace

type trace struct{ text, what string }

// What is looked for is not to be found by chance. Texts other than the
// patient code need this many bytes; what is shorter than long is not looked
// for in files with zero bytes, which are programs, pictures and the like.
const shortest, long = 4, 5

func (s *search) add(text, what string) {
	text = strings.TrimSpace(text)
	if text == "" || len(text) < shortest && what != patientCode {
		return
	}
	if t := (trace{text, what}); !slices.Contains(*s, t) {
		*s = append(*s, t)
	}
}

// looked is what came of looking for traces.
type looked struct {
	files  int      // that were looked through
	traces []Trace  // that were found
	texts  search   // of what was looked for, what was found
	unread []string // files and folders that cannot be read
	cut    bool     // for a limit not all was looked through
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
		for _, t := range s {
			// Some systems write names in capitals.
			if standsIn([]byte(strings.ToLower(name)), strings.ToLower(t.text)) {
				l.found(name, t, true)
			}
		}
		if !e.Type().IsRegular() {
			return nil
		}
		if info, err := e.Info(); err == nil {
			switch {
			case most.files > 0 && l.files == most.files:
				l.cut = true
				return fs.SkipAll
			case most.files > 0 && (info.Size() > most.single || size+info.Size() > most.size):
				l.cut = true
				return nil
			}
			size += info.Size()
		}
		found, err := s.lookInto(all, name)
		for _, t := range found {
			l.found(name, t, false)
		}
		if err != nil {
			l.unread = append(l.unread, name)
		} else {
			l.files++
		}
		return nil
	})
	return l, err
}

func (l *looked) found(file string, t trace, inName bool) {
	if found := (Trace{file, t.what, inName}); !slices.Contains(l.traces, found) {
		l.traces = append(l.traces, found)
	}
	l.texts.add(t.text, t.what)
}

// lookInto returns what is found in a file.
func (s search) lookInto(all fs.FS, name string) (found search, err error) {
	f, err := all.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	longest := 0
	for _, t := range s {
		longest = max(longest, len(t.text))
	}
	const piece = 1 << 20
	overlap := longest + 2*utf8.UTFMax // of pieces, with what stands beside a text
	buffer := make([]byte, 0, overlap+piece)
	hit := make([]bool, len(s))
	binary := false
	for {
		var n int
		n, err = io.ReadFull(f, buffer[len(buffer):min(cap(buffer), len(buffer)+piece)])
		buffer = buffer[:len(buffer)+n]
		binary = binary || bytes.IndexByte(buffer, 0) >= 0
		for i, t := range s {
			hit[i] = hit[i] || standsIn(buffer, t.text)
		}
		if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
			err = nil
			break
		}
		if err != nil {
			break
		}
		kept := min(overlap, len(buffer))
		buffer = append(buffer[:0], buffer[len(buffer)-kept:]...)
	}
	for i, t := range s {
		if hit[i] && (len(t.text) >= long || !binary) {
			found = append(found, t)
		}
	}
	return found, err
}

// standsIn reports whether text stands in content, not as a part of a longer word or
// number.
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
