package button

import (
	"testing"
	"time"
)

const s = time.Second

func TestMeans(t *testing.T) {
	for name, c := range map[string]struct {
		phase phase
		began time.Duration // after the phase began
		kind  Kind
		want  Meaning
	}{
		"ready: nothing yet as it begins": {ready, s, Down, Nothing},
		"ready: short":                    {ready, s, Short, Start},
		"ready: held, nothing yet":        {ready, s, Held, Nothing},
		"ready: long":                     {ready, s, Long, Start},
		"ready: began as ready did":       {ready, 0, Short, Start},
		"ready: began before":             {ready, -1, Short, Nothing},

		"running: at once":              {running, s, Down, Stop},
		"running: only once":            {running, s, Short, Nothing},
		"running: only once, held":      {running, s, Held, Nothing},
		"running: only once, long":      {running, s, Long, Nothing},
		"running: told as it began":     {running, -1, Down, Stop},
		"running: stuck since whenever": {running, -20 * s, Stuck, Stop},

		"stopped: nothing yet as it begins":   {stopped, 6 * s, Down, Nothing},
		"stopped: short":                      {stopped, 6 * s, Short, Settled},
		"stopped: held":                       {stopped, 6 * s, Held, OnlyPause},
		"stopped: held was it":                {stopped, 6 * s, Long, Nothing},
		"stopped: began at 5 s":               {stopped, 5 * s, Short, Settled},
		"stopped: began before 5 s":           {stopped, 5*s - 1, Short, Nothing},
		"stopped: began before 5 s, held":     {stopped, 5*s - 1, Held, Nothing},
		"stopped: the one that stopped":       {stopped, -1, Short, Nothing},
		"stopped: the one that stopped, held": {stopped, -1, Held, Nothing},
		"stopped: stuck":                      {stopped, -1, Stuck, Nothing},
		"after: nothing yet as it begins":     {ended, 2 * s, Down, Nothing},
		"after: short":                        {ended, 2 * s, Short, NoStronger},
		"after: held":                         {ended, 2 * s, Held, Stronger},
		"after: held was it":                  {ended, 2 * s, Long, Nothing},
		"after: began at 1 s":                 {ended, s, Short, NoStronger},
		"after: meant to stop":                {ended, s - 1, Short, Nothing},
		"after: began in the session":         {ended, -1, Held, Nothing},
		"after: began just before 60 s":       {ended, 60*s - 1, Short, NoStronger},
		"after: began just before 60 s, held": {ended, 60*s - 1, Held, Stronger},
		"after: began at 60 s":                {ended, 60 * s, Short, Nothing},
		"idle":                                {idle, s, Down, Nothing},
		"idle: short":                         {idle, s, Short, Nothing},
	} {
		t.Run(name, func(t *testing.T) {
			if got := c.phase.means(zero, Press{Kind: c.kind, At: zero.Add(c.began + s), Began: zero.Add(c.began)}); got != c.want {
				t.Errorf("got %v, want %v", got, c.want)
			}
		})
	}
	for after, want := range map[time.Duration]Meaning{StuckAfter - 1: Start, StuckAfter: Nothing} {
		if got := ready.means(zero, Press{Kind: Long, At: zero.Add(after), Began: zero}); got != want {
			t.Errorf("ready: let go after %v: got %v, want %v", after, got, want)
		}
	}
	for p := idle; p <= ended; p++ {
		for k := Down; k <= Long; k++ {
			if got := p.means(zero, Press{Kind: k}); got != Nothing && p != running {
				t.Errorf("phase %v: a press from before the first reading says %v", p, got)
			}
		}
	}
}
