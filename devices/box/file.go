package box

import (
	"fmt"
	"io"
	"io/fs"
	"strings"
	"time"

	"glidepace/devices/buzzer"
	"glidepace/sessions/fields"
)

// FileName is the name of the box file on a card.
const FileName = "box.yaml"

// File is one parsed box file. Defaults are filled in.
type File struct {
	Name string // what is written on the box, 1–40 characters

	// Session and Diary are slash-separated paths, seen from the folder of the
	// box file; they never leave it.
	Session, Diary string

	Buzzer, Button, Light string        // names of pins, GPIO4 to GPIO27, each another one
	Lead                  time.Duration // until the buzzer's motor is felt, 0 to buzzer.TooLate

	Sound        string // the way out to a loudspeaker, auto, pulse, aplay or off
	Volume       *int   // 0–100; nil where the session file's holds
	BatteryClock bool   // the board keeps the time while unplugged
}

// sounds are the ways out to a loudspeaker that a box may have, with "auto" and
// "off".
var sounds = []string{"auto", "pulse", "aplay", "off"}

// Default is what holds where the box file says nothing.
var Default = File{
	Session: "session.yaml", Diary: "diary.db",
	Buzzer: "GPIO17", Button: "GPIO27", Light: "GPIO22",
	Lead: buzzer.DefaultLead, Sound: "auto",
}

// Parse reads a box file; file is its name for messages. The error is a
// [*fields.Error] that holds every problem of the file.
func Parse(file string, r io.Reader) (*File, error) {
	f := Default
	if _, err := fields.Read(file, r, fields.BoxFile, f.read); err != nil {
		return nil, err
	}
	return &f, nil
}

func (f *File) read(top *fields.Mapping) {
	top.Need("glidepace-box: 1", "name: Box 3")
	var version int
	top.Whole("glidepace-box", 1, 1, &version)
	top.Text("name", 1, 40, &f.Name)
	place(top, "session", &f.Session)
	place(top, "diary", &f.Diary)
	if f.Diary != "" && strings.EqualFold(f.Session, f.Diary) { // to a FAT card, a and A are the same
		key := "diary"
		if !top.Has(key) {
			key = "session"
		}
		top.Wrong(key, fmt.Sprintf("session and diary are one file, %s; give each its own", fields.Quote(f.Diary)))
	}
	f.parts(top)
	if w := top.Word("sound", sounds...); w != "" {
		f.Sound = w
	}
	var volume int
	top.Whole("volume", 0, 100, &volume)
	if top.Has("volume") {
		f.Volume = &volume
	}
	f.BatteryClock = top.Word("clock", "none", "battery") == "battery"
}

// place reads where a file is; "" where that is wrong. It must be in the box's
// folder: nothing else is filled for a loan and wiped after it. And it must have
// a name that a card formatted as FAT takes.
func place(top *fields.Mapping, key string, to *string) {
	const never = `\:*?"<>|`
	allowed := "a file in the folder of this file or below, such as " + *to + `, with / between folders and none of ` + never
	if top.Has(key) {
		*to = ""
	}
	top.Text(key, 1, 200, to)
	if *to != "" && (!fs.ValidPath(*to) || *to == "." || strings.ContainsAny(*to, never)) {
		top.Refuse(key, fields.Quote(*to)+" is not such a path", allowed)
		*to = ""
	}
}

// parts reads what is wired to which pin.
func (f *File) parts(top *fields.Mapping) {
	parts := []struct {
		name, example string
		pin           *string
		output        bool

		m *fields.Mapping // nil where the file has none
	}{
		{name: "buzzer", example: "{pin: GPIO17, lead: 30ms}", pin: &f.Buzzer, output: true},
		{name: "button", example: "{pin: GPIO27}", pin: &f.Button},
		{name: "light", example: "{pin: GPIO22}", pin: &f.Light, output: true},
	}
	for i := range parts {
		p := &parts[i]
		if p.m = top.Mapping(p.name, p.example); p.m == nil {
			continue
		}
		pin(p.m, p.output, p.pin)
		if p.name == "buzzer" {
			p.m.Duration("lead", 0, buzzer.TooLate, &f.Lead)
		}
		p.m.Close()
	}
	for i, later := range parts {
		for _, p := range parts[:i] {
			if *p.pin != *later.pin || *p.pin == "" {
				continue
			}
			m, other := later.m, p.name
			if m == nil || !m.Has("pin") { // one of the two is in the file
				m, other = p.m, later.name
			}
			m.Wrong("pin", fmt.Sprintf("%s is the pin of the %s too; give each its own", withHeader(*p.pin), other))
			break
		}
	}
}

// pin reads the pin of a part; "" where it is wrong.
func pin(m *fields.Mapping, output bool, to *string) {
	allowed := inputPins
	if output {
		allowed = outputPins
	}
	if m.Has("pin") {
		*to = ""
	}
	v, ok := m.Scalar("pin", allowed)
	if !ok {
		return
	}
	if wrong := refusePin(v, output); wrong != "" {
		m.Refuse("pin", wrong, allowed)
		return
	}
	*to = v
}
