package main

import (
	"bytes"
	"context"
	"errors"
	"testing"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/cmd/glidepace/internal/selftest"
)

func TestWriteFindings(t *testing.T) {
	good := selftest.Finding{Part: "light, GPIO22", OK: true, Found: "switched on and off"}
	bad := selftest.Finding{Part: "sound", Found: "no sound card", Cure: "Plug one in"}
	for _, c := range []struct {
		found []selftest.Finding
		form  string
		ended error
		code  error
		want  string
	}{
		{[]selftest.Finding{good}, "text", nil, nil, "ok      light, GPIO22: switched on and off\n"},
		{[]selftest.Finding{good, bad}, "text", nil, console.ExitError(console.ExitFailed), "ok      light, GPIO22: switched on and off\nFAILED  sound: no sound card. Plug one in\n"},
		{[]selftest.Finding{good}, "text", context.Canceled, console.ExitError(console.ExitEarly), "ok      light, GPIO22: switched on and off\nEnded early; the rest is not tested.\n"},
		{[]selftest.Finding{bad}, "json", nil, console.ExitError(console.ExitFailed), `{
  "ok": false,
  "found": [
    {
      "part": "sound",
      "ok": false,
      "found": "no sound card",
      "cure": "Plug one in"
    }
  ]
}
`},
	} {
		var text bytes.Buffer
		if err := writeFindings(&text, c.found, c.form, c.ended); !errors.Is(err, c.code) || text.String() != c.want {
			t.Errorf("%v as %s: %v\n%s\nwant %v\n%s", c.found, c.form, err, &text, c.code, c.want)
		}
	}
}
