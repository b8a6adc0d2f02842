package diary

import (
	"fmt"
	"math"
	"time"
)

// Options say how a diary is kept. The zero value is for a disk of a computer.
type Options struct {
	// Card is for a memory card with a FAT file system, in a machine that may
	// be unplugged at any moment. The write-ahead log would need shared memory,
	// and files that come and go, so a rollback journal that stays (PERSIST) takes
	// its place. Commits are as safe as ever (synchronous FULL), what is erased is
	// overwritten (secure_delete), and [Diary.Close] fills the journal with zeros.
	// Opening a diary changes it from one way to the other.
	Card bool

	// A [Recorder] calls Committed, unless it is nil, for each event of its
	// session, in order, once the event is committed. Nothing more is written
	// until it returns; the session does not wait for it.
	Committed func(Event)

	passing bool // it is a copy that is thrown away: nothing waits for the disk
}

// Filter selects sessions. A field that is empty selects all.
type Filter struct {
	Patient, Title string
	From, To       string // local dates of the start, 2006-01-02, both included; sessions without a date are left out
	NoPatient      bool   // only sessions without a patient code
}

// Key says which sessions count together: those of a patient code or, without a
// code, those of a title that have no code either.
type Key struct{ Patient, Title string }

// seconds is a number of them as a length of time. One that no session lasts becomes
// thirty years, which is not allowed either.
func seconds(s float64) time.Duration {
	const most = 1e18
	return time.Duration(math.Round(max(-most, min(s*1e9, most))))
}

// NoDiaryError says that there is no diary yet at Path.
type NoDiaryError struct{ Path string }

func (e *NoDiaryError) Error() string {
	return fmt.Sprintf("no diary yet at %s: it begins with the first session or the first loan", e.Path)
}

// PlaceError says why no diary can be kept, or read, in the file at Path. In
// another file one can.
type PlaceError struct {
	Path   string
	Reason string
	Err    error // of the system or of SQLite; nil where there is none
}

func (e *PlaceError) Error() string {
	if e.Err == nil {
		return fmt.Sprintf("diary %s: %s", e.Path, e.Reason)
	}
	return fmt.Sprintf("diary %s: %s (%v)", e.Path, e.Reason, e.Err)
}

func (e *PlaceError) Unwrap() error { return e.Err }
