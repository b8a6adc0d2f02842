package boxrun

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"time"
)

// ClocksApart is how far the system's clock and a board's own may be apart.
const ClocksApart = time.Minute

// clock is what a board knows of the time.
type clock struct {
	wall      time.Time   // by the system's clock, right or not
	board     []time.Time // by the board's own clocks
	bootID    string
	sinceBoot time.Duration
}

// believable reports whether the system's clock can be right: it is not before a
// moment that has passed, and one of the board's clocks agrees with it. A clock
// with an empty battery starts again at a date years ago.
func (c clock) believable(notBefore time.Time) bool {
	return !c.wall.Before(notBefore) && slices.ContainsFunc(c.board, func(t time.Time) bool {
		return c.wall.Sub(t).Abs() <= ClocksApart
	})
}

func readClock() clock {
	wall, board, _ := Clocks()
	c := clock{wall: wall, board: board}
	if id, err := os.ReadFile("/proc/sys/kernel/random/boot_id"); err == nil {
		c.bootID = string(bytes.TrimSpace(id))
	}
	if text, err := os.ReadFile("/proc/uptime"); err == nil {
		var seconds float64
		if _, err := fmt.Sscan(string(text), &seconds); err == nil {
			c.sinceBoot = time.Duration(seconds * float64(time.Second))
		}
	}
	return c
}

// Clocks reads the system's clock, and the board's own where the kernel shows
// them to everybody. A board's clock that cannot be read, such as one that was
// never set, is an error only where no other can.
func Clocks() (system time.Time, board []time.Time, err error) {
	names, err := filepath.Glob("/sys/class/rtc/rtc*/since_epoch")
	if err != nil {
		return system, nil, err
	}
	for _, name := range names {
		text, failed := os.ReadFile(name)
		var seconds int64
		if failed == nil {
			_, failed = fmt.Sscan(string(text), &seconds)
		}
		if failed != nil {
			err = errors.Join(err, failed)
			continue
		}
		board = append(board, time.Unix(seconds, 0))
	}
	if len(board) > 0 {
		err = nil
	}
	return time.Now(), board, err
}
