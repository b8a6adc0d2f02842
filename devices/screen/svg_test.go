package screen

import (
	"encoding/xml"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/charmbracelet/x/ansi"

	"glidepace/pacer"
)

// The picture of a session that the README shows: what the full screen says in
// the middle of a movement. Command: go test ./devices/screen -run SVG -update
func TestSVG(t *testing.T) {
	file, err := os.ReadFile(filepath.Join("..", "..", "testdata", "sessions", "one-minute.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	tl := timeline(t, string(file))
	m := showing(tl, find(t, tl, func(s pacer.Step) bool { return s.Move == pacer.Glide && s.Rep == 2 }), 1400*time.Millisecond)
	m.width, m.height, m.paint.color = 80, 24, true
	golden(t, "session.svg", svg(m.View().Content, m.width, m.height))
}

// Size of a character cell.
const cellWidth, cellHeight = 10, 20

var (
	styled = regexp.MustCompile(`\x1b\[([0-9;]*)m|[^\x1b]+`)
	runs   = regexp.MustCompile(`[▀▄█]+| +|[^▀▄█ ]+( [^▀▄█ ]+)*`)
)

// svg draws a screen. Blocks are drawn as such, so that they meet in every
// font; a run of text is as wide as its cells.
func svg(screen string, columns, rows int) string {
	var b strings.Builder
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="-10 -10 %d %d" font-family="monospace" font-size="16" fill="#ddd">
<rect x="-10" y="-10" width="100%%" height="100%%" fill="#111"/>
`, columns*cellWidth+20, rows*cellHeight+20)
	style := ""
	for y, line := range strings.Split(screen, "\n") {
		x := 0
		for _, part := range styled.FindAllStringSubmatch(line, -1) {
			if part[0][0] == '\x1b' {
				style = map[string]string{"1": ` font-weight="bold"`, "36": ` fill="#4dd"`}[part[1]]
				continue
			}
			for _, run := range runs.FindAllString(part[0], -1) {
				drawRun(&b, run, x*cellWidth, y*cellHeight, style)
				x += ansi.StringWidth(run)
			}
		}
	}
	return b.String() + "</svg>\n"
}

func drawRun(b *strings.Builder, run string, x, y int, style string) {
	width := ansi.StringWidth(run) * cellWidth
	switch {
	case strings.TrimSpace(run) == "":
	case !strings.ContainsAny(run, "▀▄█"):
		fmt.Fprintf(b, `<text x="%d" y="%d" textLength="%d"%s>`, x, y+15, width, style)
		xml.EscapeText(b, []byte(run))
		b.WriteString("</text>\n")
	default:
		path := ""
		for i, r := range []rune(run) {
			top, high := y, cellHeight
			if r != '█' {
				high /= 2
			}
			if r == '▄' {
				top += cellHeight / 2
			}
			path += fmt.Sprintf("M%d %dh%dv%dh-%dz", x+i*cellWidth, top, cellWidth, high, cellWidth)
		}
		fmt.Fprintf(b, "<path d=%q%s/>\n", path, style)
	}
}
