package button

import (
	"testing"
	"time"
)

const s = time.Second

func TestMeans(t *testing.T) {
	for name, c := range map[string]struct {
		state State
		began time.Duration // after the state began
		kind  Kind
		want  Meaning
	}{
		"ready: nothing yet as it begins": {Ready, s, Down, Nothing},
		"ready: short":                    {Ready, s, Short, Start},
		"ready: held, nothing yet":        {Ready, s, Held, Nothing},
		"ready: long":                     {Ready, s, Long, Start},
		"ready: began as ready did":       {Ready, 0, Short, Start},
		"ready: began before":             {Ready, -1, Short, Nothing},

		"running: at once":              {Running, s, Down, Stop},
		"running: only once":            {Running, s, Short, Nothing},
		"running: only once, held":      {Running, s, Held, Nothing},
		"running: only once, long":      {Running, s, Long, Nothing},
		"running: told as it began":     {Running, -1, Down, Stop},
		"running: stuck since whenever": {Running, -20 * s, Stuck, Stop},

		"stopped: nothing yet as it begins":   {Stopped, 6 * s, Down, Nothing},
		"stopped: short":                      {Stopped, 6 * s, Short, Settled},
		"stopped: held":                       {Stopped, 6 * s, Held, OnlyPause},
		"stopped: held was it":                {Stopped, 6 * s, Long, Nothing},
		"stopped: began at 5 s":               {Stopped, 5 * s, Short, Settled},
		"stopped: began before 5 s":           {Stopped, 5*s - 1, Short, Nothing},
		"stopped: began before 5 s, held":     {Stopped, 5*s - 1, Held, Nothing},
		"stopped: the one that stopped":       {Stopped, -1, Short, Nothing},
		"stopped: the one that stopped, held": {Stopped, -1, Held, Nothing},
		"stopped: stuck":                      {Stopped, -1, Stuck, Nothing},
		"after: nothing yet as it begins":     {After, 2 * s, Down, Nothing},
		"after: short":                        {After, 2 * s, Short, NoStronger},
		"after: held":                         {After, 2 * s, Held, Stronger},
		"after: held was it":                  {After, 2 * s, Long, Nothing},
		"after: began at 1 s":                 {After, s, Short, NoStronger},
		"after: meant to stop":                {After, s - 1, Short, Nothing},
		"after: began in the session":         {After, -1, Held, Nothing},
		"after: began just before 60 s":       {After, 60*s - 1, Short, NoStronger},
		"after: began just before 60 s, held": {After, 60*s - 1, Held, Stronger},
		"after: began at 60 s":                {After, 60 * s, Short, Nothing},
		"idle":                                {Idle, s, Down, Nothing},
		"idle: short":                         {Idle, s, Short, Nothing},
	} {
		t.Run(name, func(t *testing.T) {
			if got := c.state.Means(zero, Press{Kind: c.kind, At: zero.Add(c.began + s), Began: zero.Add(c.began)}); got != c.want {
				t.Errorf("got %v, want %v", got, c.want)
			}
		})
	}
	for after, want := range map[time.Duration]Meaning{StuckAfter - 1: Start, StuckAfter: Nothing} {
		if got := Ready.Means(zero, Press{Kind: Long, At: zero.Add(after), Began: zero}); got != want {
			t.Errorf("ready: let go after %v: got %v, want %v", after, got, want)
		}
	}
	for state := Idle; state <= After; state++ {
		for k := Down; k <= Long; k++ {
			if got := state.Means(zero, Press{Kind: k}); got != Nothing && state != Running {
				t.Errorf("state %v: a press from before the first reading says %v", state, got)
			}
		}
	}
}
