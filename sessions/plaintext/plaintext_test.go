package plaintext

import (
	"encoding/json"
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"
)

// By the Unicode Standard 16.0: C0 and C1 controls (chapter 23.1), line and
// paragraph separator (5.8), the bidirectional controls (Unicode Standard Annex
// 9, table 1) and what has no width (23.2).
func TestLine(t *testing.T) {
	for text, want := range map[string]string{
		"Eva-Märtha Ó Súil":                      "Eva-Märtha Ó Súil",
		"می\u200cخواهم":                          "می\u200cخواهم", // with the joiner without which it is another word
		"क्\u200dष":                              "क्\u200dष",
		"ᠨᠠᠷ\u180eᠠ":                             "ᠨᠠᠷ\u180eᠠ",
		"👩\u200d⚕️ 日本語":                          "👩\u200d⚕️ 日本語",
		"a\nb\r\tc\v\fd":                         "a b  c  d",
		"a\u0085b\u2028c\u2029d":                 "a b c d",
		"\x1b[2J\x07\x00\x7f":                    "\uFFFD[2J\uFFFD\uFFFD\uFFFD",
		"\u009b31m\u0090":                        "\uFFFD31m\uFFFD",
		"\x9b31m\xff":                            "\uFFFD31m\uFFFD", // as a terminal of 8 bits has it
		"\u202Eab\u202C\u2066\u200E\u200F\u061C": "\uFFFDab\uFFFD\uFFFD\uFFFD\uFFFD\uFFFD",
		"a\u200Bb\uFEFF\u2060\u00AD":             "a\uFFFDb\uFFFD\uFFFD\uFFFD",
	} {
		if got := Line(text); got != want {
			t.Errorf("%+q: %+q, want %+q", text, got, want)
		}
	}
}

func TestSaid(t *testing.T) {
	long := strings.Repeat("é", 300)
	for text, want := range map[string]string{
		" it\nfails\n": "it fails",
		long:           long,
		"why\n" + long: "…" + long[2:],
	} {
		if got := Said(text); got != want {
			t.Errorf("%q: %q, want %q", text, got, want)
		}
	}
}

func FuzzLine(f *testing.F) {
	f.Add("k3f7\n\x1b]0;x\x07", "\u009b\u202e\U000E0001\xff")
	f.Fuzz(func(t *testing.T, a, b string) {
		text := a + b
		line := Line(text)
		if strings.ContainsFunc(line, Hidden) || strings.ContainsFunc(line, unicode.IsControl) || !utf8.ValidString(line) {
			t.Errorf("%+q becomes %+q", text, line)
		}
		if Line(line) != line {
			t.Errorf("%+q changes when it is made harmless again", line)
		}
		written, err := json.Marshal([]string{a, b})
		if err != nil {
			t.Fatal(err)
		}
		var before, after []string
		if json.Unmarshal(written, &before) != nil || json.Unmarshal(JSON(written), &after) != nil || before[0] != after[0] || before[1] != after[1] {
			t.Errorf("%q became %q in JSON", before, after)
		}
		if strings.ContainsFunc(string(JSON(written)), Hidden) {
			t.Errorf("hidden characters in %+q", JSON(written))
		}
	})
}
