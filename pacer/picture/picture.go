// Package picture draws a timeline: the breath as a curve that rises and falls, and
// below it the movement, out and back. It is made for paper. Everything is black on
// white with the names beside the lines, so that it reads the same from a black and
// white printer.
//
// It uses only the drawing half of gonum.org/v1/plot. The plots themselves bring
// twelve fonts, which are read at every start of the program, and formats that nobody
// needs here.
package picture

import (
	"bytes"
	"fmt"
	"html"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
	"gonum.org/v1/plot/vg/vgsvg"

	"glidepace/sessions/plaintext"
)

// Picture is a drawing, ready to be written in any of its formats.
type Picture struct {
	width, height vg.Length
	title         string // for those who cannot see it
	draw          func(draw.Canvas)
}

// dotsPerInch is the resolution of a PNG. A page of it is sharp in print.
const dotsPerInch = 200

// PNG returns the picture as an image.
func (p *Picture) PNG() ([]byte, error) {
	c := vgimg.NewWith(vgimg.UseWH(p.width, p.height), vgimg.UseDPI(dotsPerInch))
	p.draw(draw.New(c))
	var b bytes.Buffer
	_, err := vgimg.PngCanvas{Canvas: c}.WriteTo(&b)
	return b.Bytes(), err
}

// SVG returns the picture as a file of its own.
func (p *Picture) SVG() ([]byte, error) {
	return p.svg(fmt.Sprintf(` width="%.4gpt" height="%.4gpt"`, p.width.Points(), p.height.Points()))
}

// Inline returns the picture as an element to stand in a page. It is as wide as its
// place, and has no id, no style sheet and nothing to load.
func (p *Picture) Inline() ([]byte, error) { return p.svg("") }

// svg puts an opening tag of our own before what the library draws, since its own has
// a fixed size and no text.
func (p *Picture) svg(size string) ([]byte, error) {
	c := vgsvg.New(p.width, p.height)
	p.draw(draw.New(c))
	var b bytes.Buffer
	if _, err := c.WriteTo(&b); err != nil {
		return nil, err
	}
	_, drawn, _ := bytes.Cut(b.Bytes(), []byte("<svg"))
	_, drawn, _ = bytes.Cut(drawn, []byte(">\n"))
	// Quotes in a text are escaped, so this is found in attributes alone. The fonts are
	// as wide as the one that the picture was measured with.
	drawn = bytes.ReplaceAll(drawn, []byte(`style="font-family:Liberation Sans;`),
		[]byte(`style="font-family:Liberation Sans,Arial,Helvetica,sans-serif;`))
	title := html.EscapeString(plaintext.Line(p.title))
	head := fmt.Sprintf(`<svg xmlns="http://www.w3.org/2000/svg"%s viewBox="0 0 %.5g %.5g" role="img" aria-label="%s">`+"\n<title>%s</title>\n",
		size, p.width.Points(), p.height.Points(), title, title)
	return append([]byte(head), drawn...), nil
}
