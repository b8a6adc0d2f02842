package box

import (
	"bytes"
	"encoding/xml"
	"fmt"
)

// Diagram returns the wiring of the box as a schematic in SVG: the header as
// seen from above, and beside it the circuit of each part, whose ends say to
// which pin they go. It is black on white, to be printed. The same box gives
// the same bytes.
func (f *File) Diagram() []byte {
	d := &drawing{}
	wires := f.Wiring()
	title := "Wiring of the buzzer box"
	if f.Name != "" {
		title += ": " + f.Name
	}
	height := 770
	if f.BatteryClock {
		height = 910
	}
	fmt.Fprintf(d, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 960 %d" width="960" height="%[1]d" role="img" font-family="sans-serif" font-size="14">`+"\n", height)
	d.WriteString("<title>")
	xml.EscapeText(d, []byte(title))
	d.WriteString("</title>\n")
	d.add(`<rect width="960" height="%d" fill="white"/>`, height)
	d.add(`<g fill="none" stroke="black" stroke-width="1.6" stroke-linecap="round" stroke-linejoin="round">`)
	d.header(wires)
	at := func(part, line string) string {
		for _, w := range wires {
			if w.Part == part && w.Line == line {
				return fmt.Sprintf("%s · pin %d", line, w.Header)
			}
		}
		return line
	}
	d.buzzer(at("buzzer", f.Buzzer), at("buzzer", "3.3 V"), at("buzzer", "ground"))
	d.button(at("button", f.Button), at("button", "ground"))
	d.light(at("light", f.Light), at("light", "ground"))
	if f.BatteryClock {
		d.clock(at("clock", "3.3 V"), at("clock", "GPIO2"), at("clock", "GPIO3"), at("clock", "ground"))
	}
	d.add("</g>")
	d.text(30, 36, title, "font-size=\"20\" font-weight=\"bold\"")
	d.text(30, float64(height)-22, "Power off before wiring. Never a motor on a GPIO pin without transistor, diode and pull-down.", "")
	d.add("</svg>")
	return d.Bytes()
}

// drawing is an SVG under way, in pixels.
type drawing struct{ bytes.Buffer }

func (d *drawing) add(format string, args ...any) { fmt.Fprintf(d, format+"\n", args...) }

// path draws lines that do not bend: "M0 0h20v10".
func (d *drawing) path(format string, args ...any) {
	d.add(`<path d="%s"/>`, fmt.Sprintf(format, args...))
}

// text writes any text, with its left end at x and its base at y where
// attributes do not say otherwise.
func (d *drawing) text(x, y float64, text, attributes string) {
	if attributes != "" {
		attributes = " " + attributes
	}
	fmt.Fprintf(d, `<text x="%g" y="%g" fill="black" stroke="none"%s>`, x, y, attributes)
	xml.EscapeText(d, []byte(text))
	d.WriteString("</text>\n")
}

const (
	toTheLeft = `text-anchor="end"`
	inMiddle  = `text-anchor="middle"`
	bold      = `font-weight="bold"`
)

// header draws the 40 pins, odd ones on the left, those in use filled.
func (d *drawing) header(wires []Wire) {
	uses := map[int]Wire{}
	for _, w := range wires {
		uses[w.Header] = w
	}
	d.text(205, 68, "Header, from above", inMiddle)
	d.add(`<rect x="172" y="78" width="66" height="614" rx="4"/>`)
	for pin := 1; pin <= 40; pin++ {
		x, y := 190.0, 95+30*float64((pin-1)/2)
		label, anchor := 162.0, toTheLeft
		if pin%2 == 0 {
			x, label, anchor = 220, 248, ""
		}
		w, used := uses[pin]
		fill, ink := "white", "#555"
		if used {
			fill, ink = "black", "white"
			text := w.Line + " · " + w.Part
			if pin%2 == 1 {
				text = w.Part + " · " + w.Line
			}
			d.text(label, y+5, text, anchor)
		}
		if pin == 1 { // as its solder pad is
			d.add(`<rect x="%g" y="%g" width="24" height="24" fill="%s"/>`, x-12, y-12, fill)
		} else {
			d.add(`<circle cx="%g" cy="%g" r="12" fill="%s"/>`, x, y, fill)
		}
		d.add(`<text x="%g" y="%g" fill="%s" stroke="none" font-size="11" text-anchor="middle">%d</text>`, x, y+4, ink, pin)
	}
	d.text(205, 710, "Pin 1 has the square pad.", inMiddle+` font-size="12"`)
}

// end is where a circuit goes to the header: a box with the pin's name, which
// is joined at its right edge (x, y).
func (d *drawing) end(x, y float64, pin string) {
	d.add(`<rect x="%g" y="%g" width="132" height="26" rx="3"/>`, x-132, y-13)
	d.text(x-66, y+5, pin, inMiddle)
}

// across draws a resistor from (x, y) 60 to the right.
func (d *drawing) across(x, y float64, value string) {
	d.add(`<rect x="%g" y="%g" width="44" height="16"/>`, x+8, y-8)
	d.path("M%g %gh8m44 0h8", x, y)
	d.text(x+30, y-14, value, inMiddle)
}

func (d *drawing) dot(x, y float64) {
	d.add(`<circle cx="%g" cy="%g" r="3.5" fill="black"/>`, x, y)
}

func (d *drawing) buzzer(gate, supply, ground string) {
	d.text(400, 84, "Buzzer", bold)
	// supply, motor and diode, down to the drain
	d.end(532, 120, supply)
	d.path("M532 120H770M700 120v28M700 212v38")
	d.add(`<circle cx="700" cy="180" r="32"/>`)
	d.text(700, 187, "M", inMiddle+` font-size="20"`)
	d.text(656, 185, "motor", toTheLeft)
	d.dot(700, 120)
	d.path("M770 120v42M770 198v34H700")
	d.dot(700, 232)
	d.add(`<path d="M770 166l-16 30h32z" fill="black"/>`)
	d.path("M752 164h36")
	d.text(800, 178, "flyback diode,", "")
	d.text(800, 196, "stripe to 3.3 V", "")
	// transistor
	d.path("M700 250v14h-34M666 290h34v70M666 254v20M666 280v20M658 258v38M658 290H612")
	d.add(`<path d="M700 277h-24M676 277l10 -5v10z" fill="black"/>`)
	d.path("M700 277v13")
	d.text(710, 266, "D", `font-size="12"`)
	d.text(710, 300, "S", `font-size="12"`)
	d.text(640, 280, "G", `font-size="12"`)
	d.text(732, 276, "transistor:", "")
	d.text(732, 294, "N-channel MOSFET,", "")
	d.text(732, 312, "logic level", "")
	// gate
	d.end(532, 290, gate)
	d.across(544, 290, gateResistor)
	d.path("M532 290h12M604 290h8")
	d.dot(618, 290)
	d.add(`<rect x="610" y="304" width="16" height="42"/>`)
	d.path("M618 290v14M618 346v14")
	d.text(602, 324, pullDown, toTheLeft)
	d.text(602, 342, "pull-down", toTheLeft)
	d.end(532, 376, ground)
	d.path("M532 376H700v-16M618 360v16")
	d.dot(618, 376)
	d.path("M380 420H930")
}

func (d *drawing) button(pin, ground string) {
	d.text(400, 450, "Button", bold)
	d.end(532, 490, pin)
	d.across(544, 490, buttonResistor)
	d.path("M532 490h12M604 490h60")
	d.add(`<circle cx="668" cy="490" r="4"/><circle cx="722" cy="490" r="4"/>`)
	d.path("M664 474h62M695 474v-16M682 458h26")
	d.path("M726 490h34v50H532")
	d.end(532, 540, ground)
	d.text(780, 500, "a press joins pin", "")
	d.text(780, 518, "and ground", "")
	d.path("M380 570H930")
}

func (d *drawing) light(pin, ground string) {
	d.text(400, 600, "Light", bold)
	d.end(532, 640, pin)
	d.across(544, 640, lightResistor)
	d.path("M532 640h12M604 640h74M712 640h48v50H532")
	d.add(`<path d="M680 624v32l30 -16z" fill="black"/>`)
	d.path("M712 622v36")
	d.path("M694 616l10 -16M704 600l-1 7M704 600l-6 3M708 618l10 -16M718 602l-1 7M718 602l-6 3")
	d.end(532, 690, ground)
	d.text(780, 650, "LED, its long leg", "")
	d.text(780, 668, "at the resistor", "")
}

func (d *drawing) clock(supply, data, clock, ground string) {
	d.path("M380 720H930")
	d.text(400, 744, "Battery clock module (I²C)", bold)
	d.add(`<rect x="600" y="754" width="150" height="98" rx="4"/>`)
	for i, end := range []struct{ pin, name string }{{supply, "VCC"}, {data, "SDA"}, {clock, "SCL"}, {ground, "GND"}} {
		y := 768 + 24*float64(i)
		d.add(`<rect x="400" y="%g" width="132" height="20" rx="3"/>`, y-10)
		d.text(466, y+5, end.pin, inMiddle)
		d.path("M532 %gh68", y)
		d.text(610, y+5, end.name, "")
	}
}
