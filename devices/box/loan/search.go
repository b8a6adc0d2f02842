package loan

import (
	"bytes"
	"errors"
	"io"
	"io/fs"
	"maps"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Trace is something of a loan in a file that is left on a card.
type Trace struct {
	File string `json:"file"` // its path in the card's folder; outside of it the full path
	What string `json:"what"` // one of the kinds, such as "the patient code"
	Name bool   `json:"name"` // in the file's name; else in its content
}

// search is what is looked for.
type search map[wanted]bool

type wanted struct{ text, what string }

const (
	patientCode  = "the patient code"
	sessionTitle = "the session's title"
	sessionID    = "the ID of a session"
	patientNote  = "a note"
)

// kinds is the order in which traces of a file are told.
var kinds = []string{patientCode, sessionTitle, sessionID, patientNote}

// What is looked for is not to be found by chance. Texts other than the
// patient code need this many bytes; what is shorter than long is not looked
// for in files with zero bytes, which are programs, pictures and the like.
const shortest, long = 4, 5

func (s search) add(text, what string) {
	text = strings.TrimSpace(text)
	if text != "" && (len(text) >= shortest || what == patientCode) {
		s[wanted{text, what}] = true
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
	// Some systems write names in capitals.
	lower := search{}
	for w := range s {
		lower.add(strings.ToLower(w.text), w.what)
	}
	inNames, inContents := newFinder(lower), newFinder(s)
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
		found, _ := inNames.in(strings.NewReader(strings.ToLower(name)))
		l.add(name, found, true)
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
		found, err = inContents.inFile(all, name)
		l.add(name, found, false)
		if err != nil {
			l.unread = append(l.unread, name)
		} else {
			l.files++
		}
		return nil
	})
	return l, err
}

func (l *looked) add(file string, found map[string]bool, inName bool) {
	for _, what := range kinds {
		if found[what] {
			l.traces = append(l.traces, Trace{file, what, inName})
		}
	}
}

// finder finds many texts in one pass: at each place it looks up what stands
// there in the sorted list of them.
type finder struct {
	list    []wanted      // by text
	prefix  []int         // of each text, the longest other one that it begins with; -1 for none
	begins  [1 << 16]bool // the two bytes that a text can begin with
	longest int           // bytes of a text
}

func newFinder(s search) *finder {
	f := &finder{list: slices.SortedFunc(maps.Keys(s), func(a, b wanted) int { return strings.Compare(a.text, b.text) })}
	f.prefix = make([]int, len(f.list))
	open := -1 // the last text, or the longest one that it begins with and the next one too
	for i, w := range f.list {
		for open >= 0 && !strings.HasPrefix(w.text, f.list[open].text) {
			open = f.prefix[open]
		}
		f.prefix[i], open = open, i
		f.longest = max(f.longest, len(w.text))
		for second := range 256 {
			if len(w.text) == 1 || int(w.text[1]) == second {
				f.begins[int(w.text[0])<<8|second] = true
			}
		}
	}
	return f
}

// beside is how many bytes before and after a text say whether it is part of a
// longer word.
const beside = utf8.UTFMax

func (f *finder) inFile(all fs.FS, name string) (map[string]bool, error) {
	r, err := all.Open(name)
	if err != nil {
		return nil, err
	}
	defer r.Close()
	return f.in(r)
}

// in returns what stands in a content.
func (f *finder) in(content io.Reader) (found map[string]bool, err error) {
	found = map[string]bool{}
	short := map[string]bool{} // what stands there with a text shorter than long
	binary := false
	hit := func(w wanted) {
		if len(w.text) < long {
			short[w.what] = true
		} else {
			found[w.what] = true
		}
	}
	const piece = 1 << 20
	buffer := make([]byte, 0, piece+f.longest+2*beside)
	for from := 0; err == nil; {
		old := len(buffer)
		var n int
		n, err = io.ReadFull(content, buffer[old:cap(buffer)])
		buffer = buffer[:old+n]
		binary = binary || bytes.IndexByte(buffer[old:], 0) >= 0
		to := len(buffer)
		if err == nil {
			to -= f.longest + beside // more is needed to tell
		}
		f.find(buffer, from, to, hit)
		keep := max(0, to-beside)
		from = to - keep
		buffer = buffer[:copy(buffer, buffer[keep:])]
	}
	if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		err = nil
	}
	if !binary {
		maps.Copy(found, short)
	}
	return found, err
}

// find calls hit for each text that begins at one of the places from from to to,
// and is not a part of a longer word or number.
func (f *finder) find(content []byte, from, to int, hit func(wanted)) {
	for at := from; at < to; at++ {
		second := 0
		if at+1 < len(content) {
			second = int(content[at+1])
		}
		if !f.begins[int(content[at])<<8|second] {
			continue
		}
		if before, _ := utf8.DecodeLastRune(content[:at]); inWord(before) {
			continue
		}
		rest := content[at:min(at+f.longest, len(content))]
		// All texts that rest begins with are the last one that sorts before it,
		// or begin that one.
		after, _ := slices.BinarySearchFunc(f.list, rest, func(w wanted, rest []byte) int {
			if w.text <= string(rest) {
				return -1
			}
			return 1
		})
		for i := after - 1; i >= 0; i = f.prefix[i] {
			end := at + len(f.list[i].text)
			if end > len(content) || string(content[at:end]) != f.list[i].text {
				continue
			}
			if after, _ := utf8.DecodeRune(content[end:]); !inWord(after) {
				hit(f.list[i])
			}
		}
	}
}

func inWord(r rune) bool { return unicode.IsLetter(r) || unicode.IsDigit(r) }
