package box

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
	File string `json:"file"` // its path on the card
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

// look looks through the names and contents of all files on the card but its
// loan record, and returns how many there are.
func (c *card) look(s search) (files int, found []Trace, err error) {
	err = fs.WalkDir(c.root.FS(), ".", func(name string, e fs.DirEntry, err error) error {
		if err != nil || name == "." || name == LoanName {
			return err
		}
		for _, t := range s {
			// Some systems write names in capitals.
			if standsIn([]byte(strings.ToLower(name)), strings.ToLower(t.text)) {
				found = append(found, Trace{name, t.what, true})
			}
		}
		if !e.Type().IsRegular() {
			return nil
		}
		files++
		what, err := c.lookInto(name, s)
		for _, w := range what {
			found = append(found, Trace{name, w, false})
		}
		return err
	})
	return files, slices.Compact(found), err
}

// lookInto returns what is found in a file.
func (c *card) lookInto(name string, s search) ([]string, error) {
	f, err := c.root.Open(name)
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
		n, err := io.ReadFull(f, buffer[len(buffer):min(cap(buffer), len(buffer)+piece)])
		buffer = buffer[:len(buffer)+n]
		binary = binary || bytes.IndexByte(buffer, 0) >= 0
		for i, t := range s {
			hit[i] = hit[i] || standsIn(buffer, t.text)
		}
		if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
			break
		}
		if err != nil {
			return nil, err
		}
		kept := min(overlap, len(buffer))
		buffer = append(buffer[:0], buffer[len(buffer)-kept:]...)
	}
	var what []string
	for i, t := range s {
		if hit[i] && (len(t.text) >= long || !binary) && !slices.Contains(what, t.what) {
			what = append(what, t.what)
		}
	}
	return what, nil
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
