package picture

import (
	"image/color"
	"strings"
	"sync"

	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	stdfont "golang.org/x/image/font"
	"golang.org/x/image/font/opentype"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"glidepace/sessions/plaintext"
)

var sans = font.Font{Typeface: "Liberation", Variant: "Sans"}

// fonts reads the two fonts when the first picture is drawn.
var fonts = sync.OnceValue(func() text.Handler {
	bold := sans
	bold.Weight = stdfont.WeightBold
	return text.Plain{Fonts: font.NewCache(font.Collection{
		{Font: sans, Face: parse(liberationsansregular.TTF)},
		{Font: bold, Face: parse(liberationsansbold.TTF)},
	})}
})

func parse(ttf []byte) *opentype.Font {
	f, err := opentype.Parse(ttf)
	if err != nil {
		panic(err) // it is part of the program
	}
	return f
}

// letters is a text style of a size in points, for a text whose middle is above its
// place.
func letters(size vg.Length) text.Style {
	return text.Style{Color: color.Black, Font: font.From(sans, size), XAlign: text.XCenter, Handler: fonts()}
}

func leftward(s text.Style) text.Style {
	s.XAlign = text.XLeft
	return s
}

func boldface(s text.Style) text.Style {
	s.Font.Weight = stdfont.WeightBold
	return s
}

// longest returns the first of some texts that there is room for, "" if there is none.
func longest(s text.Style, room vg.Length, texts []string) string {
	for _, words := range texts {
		if s.Width(words) <= room {
			return words
		}
	}
	return ""
}

// fit returns as much of a text as the width has room for, in one line.
func fit(s text.Style, words string, width vg.Length) string {
	words = plaintext.Line(words)
	if s.Width(words) <= width {
		return words
	}
	runes := []rune(words)
	for len(runes) > 0 && s.Width(string(runes)+"…") > width {
		runes = runes[:len(runes)-1]
	}
	if len(runes) == 0 {
		return ""
	}
	return string(runes) + "…"
}

// The lines of a picture differ in weight and in dashes, not in colour.
var (
	thick  = draw.LineStyle{Color: color.Black, Width: 1.4}
	medium = draw.LineStyle{Color: color.Black, Width: 0.9}
	thin   = draw.LineStyle{Color: color.Black, Width: 0.5}
	dashed = draw.LineStyle{Color: color.Black, Width: 0.9, Dashes: []vg.Length{3, 2.5}}
	dotted = draw.LineStyle{Color: color.Gray{0x77}, Width: 0.5, Dashes: []vg.Length{1, 2}}
	shade  = color.Gray{0xdd}
)

// wrapped returns a text in lines that the width has room for.
func wrapped(s text.Style, words string, width vg.Length) (lines []string) {
	for _, word := range strings.Fields(plaintext.Line(words)) {
		if n := len(lines) - 1; n >= 0 && s.Width(lines[n]+" "+word) <= width {
			lines[n] += " " + word
		} else {
			lines = append(lines, fit(s, word, width))
		}
	}
	return lines
}

const small = vg.Length(8) // the smallest letters, in points: they are read on paper
