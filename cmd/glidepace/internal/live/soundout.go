package live

import (
	"sync"
	"time"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/sessions/diary"
	"glidepace/sessions/history"
	"glidepace/sounds"
	"glidepace/sounds/out"
)

// SoundOut is the way out for the sound of a session. If sound is lost or comes
// back, it says so on the screen and in the diary.
type SoundOut struct {
	out.Output
	notes *console.Notes

	mu     sync.Mutex
	stage  *stage          // nil before the session begins, or without a screen
	record *history.Writer // nil before the session begins, or without a diary
	lost   bool            // or was never there
}

// OpenSound opens a way out, one of out.Ways. With an error it returns a silent one.
func OpenSound(way string, notes *console.Notes) (*SoundOut, error) {
	s := &SoundOut{notes: notes}
	o, err := out.Open(way, func(lost error) {
		go s.changed(lost) // the sound must not wait for a terminal that is slow
	})
	s.mu.Lock()
	defer s.mu.Unlock()
	s.Output, s.lost = o, err != nil
	return s, err
}

// Live returns the sound that a session follows. The offset is a delay that the
// output does not know of.
func (s *SoundOut) Live(settings sounds.Settings, offset time.Duration) *sounds.Live {
	if s.Name() == "off" {
		offset = 0
	}
	return sounds.NewLive(s.Output, settings, offset)
}

// Tail is how long sound rings out after the last step.
func (s *SoundOut) Tail() time.Duration {
	if s.Name() == "off" {
		return 0
	}
	return sounds.Tail
}

// Begin begins a session without a screen.
func (s *SoundOut) Begin(record *history.Writer) { s.begin(nil, record) }

func (s *SoundOut) begin(stage *stage, record *history.Writer) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.stage, s.record = stage, record
	if s.lost && stage != nil {
		go stage.note("No sound: watch the screen.")
	}
}

func (s *SoundOut) changed(lost error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	text, kind := "", diary.SoundBack
	s.lost = lost != nil
	if lost != nil {
		text, kind = "The sound is lost: watch the screen.", diary.SoundLost
		s.notes.Add("the sound is lost: %v; the session goes on", lost)
	} else {
		s.notes.Add("the sound is back")
	}
	if s.stage != nil {
		s.stage.note(text)
	}
	if s.record != nil {
		s.record.Sound(kind)
	}
}
