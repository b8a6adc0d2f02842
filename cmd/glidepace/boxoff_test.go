package main

import (
	"errors"
	"strings"
	"testing"

	"glidepace/devices/box"
)

func TestSwitchOff(t *testing.T) {
	f := box.Default
	for _, c := range []struct{ broken, says string }{
		{"", ""},
		{f.Buzzer, "buzzer: busy"},
		{f.Light, "light: busy"},
	} {
		b := newFakeBox()
		if c.broken != "" {
			b.broken[c.broken] = errors.New("busy")
		}
		err := switchOff(&f, b.parts().output)
		if (err == nil) != (c.says == "") || err != nil && !strings.Contains(err.Error(), c.says) {
			t.Errorf("%q broken: %v, want %q", c.broken, err, c.says)
		}
		for _, pin := range []string{f.Buzzer, f.Light} {
			if set := b.set[pin]; (pin != c.broken) != (len(set) == 1 && !set[0]) {
				t.Errorf("%q broken: %s was switched %v", c.broken, pin, set)
			}
		}
	}
}
