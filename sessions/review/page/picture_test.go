package page

import (
	"encoding/xml"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"glidepace/sessions/review"
)

var update = flag.Bool("update", false, "write the picture")

// The README's picture of a review: the charts of an invented patient. Command:
// go test ./sessions/review/page -run Picture -update
func TestPicture(t *testing.T) {
	courses := clinic(t, 4)
	i := slices.IndexFunc(courses, func(c review.Course) bool { return c.Patient == "DEMO-3" })
	c := newCourse(&courses[i], "p")
	var b strings.Builder
	b.WriteString(`<svg xmlns="http://www.w3.org/2000/svg" viewBox="-10 -10 760 618" font-family="sans-serif">
<style>svg svg text { fill: #000; stroke: #fff; stroke-width: 4; paint-order: stroke; } .enough, .diamond { color: #1f5a96; stroke: #1f5a96; } .low, .cross { stroke: #8a4a00; }</style>
<rect x="-10" y="-10" width="100%" height="100%" fill="#fff"/>
`)
	spoken := sentence(c.Spoken())
	fmt.Fprintf(&b, `<text y="20" font-size="20" font-weight="bold">%s</text>`+"\n", c.Patient)
	half := strings.LastIndex(spoken[:len(spoken)/2+10], ", ") + 1
	for i, line := range []string{spoken[:half], spoken[half+1:]} {
		fmt.Fprintf(&b, `<text y="%d" font-size="15">%s</text>`+"\n", 42+20*i, line)
	}
	figures := []figure{c.Parts[0].Figures[0], c.Parts[2].Figures[0], c.Parts[1].Figures[0], c.Parts[1].Figures[2]}
	for i, f := range figures {
		x, y := i%2*380, 94+i/2*264
		fmt.Fprintf(&b, `<text x="%d" y="%d" font-size="14" font-weight="bold">`, x, y)
		xml.EscapeText(&b, []byte(f.Title))
		fmt.Fprintf(&b, "</text>\n<svg x=\"%d\" y=\"%d\" width=\"%d\" height=\"%d\">\n%s</svg>\n", x, y+8, chartWidth, chartHeight, f.Chart)
	}
	b.WriteString("</svg>\n")

	file := filepath.Join("testdata", "review.svg")
	if *update {
		if err := os.WriteFile(file, []byte(b.String()), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatalf("%v (go test -update writes it)", err)
	}
	if b.String() != string(want) {
		t.Errorf("%s differs (go test -update writes it)", file)
	}
}
