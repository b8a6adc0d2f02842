package figure_test

import (
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"glidepace/sessions/glides"
	"glidepace/sessions/glides/figure"
)

func TestAt(t *testing.T) {
	back := figure.Pose{Wrist: 60}
	straight := figure.Figure{Start: figure.Pose{Elbow: 90, Curl: 10}, End: figure.Pose{Elbow: 10, Wrist: 60, Curl: 10}}
	beyond := figure.Figure{End: figure.Pose{Head: 20}, Back: &back}
	for what, c := range map[string]struct {
		f             figure.Figure
		moment, share float64
		want          figure.Pose
	}{
		"beginning":                     {straight, 0, 1, figure.Pose{Elbow: 90, Curl: 10}},
		"a quarter of the time":         {straight, .25, 1, figure.Pose{Elbow: 70, Wrist: 15, Curl: 10}},
		"end":                           {straight, 1, 1, figure.Pose{Elbow: 10, Wrist: 60, Curl: 10}},
		"too late":                      {straight, 1.2, 1, figure.Pose{Elbow: 10, Wrist: 60, Curl: 10}},
		"end of half the way":           {straight, 1, .5, figure.Pose{Elbow: 50, Wrist: 30, Curl: 10}},
		"middle of three quarters":      {straight, .5, .75, figure.Pose{Elbow: 60, Wrist: 22.5, Curl: 10}},
		"back beyond the start":         {beyond, 0, 1, figure.Pose{Wrist: 60}},
		"half the way back":             {beyond, 0, .5, figure.Pose{Wrist: 30}},
		"on its way to the start":       {beyond, .25, 1, figure.Pose{Wrist: 30}},
		"the start, in the middle":      {beyond, .5, 1, figure.Pose{}},
		"on its way to the end of half": {beyond, .75, .5, figure.Pose{Head: 5}},
	} {
		if got := c.f.At(c.moment, c.share); got != c.want {
			t.Errorf("%s: %+v, want %+v", what, got, c.want)
		}
	}
}

// What each picture says is what the texts of the glide ask for.
func TestLibraryIsDrawnAsItsTextsSay(t *testing.T) {
	const side, hangs, line = "arm is out to the side, the elbow is almost straight", "upper arm hangs at the side, the elbow is ", "wrist is in line, "
	for name, want := range map[string][2]string{
		"median-wrist":   {side + ", the palm faces forward, the " + line, side + ", the palm faces away from you, the wrist is bent back"},
		"median-elbow":   {hangs + "bent, the palm faces up, the " + line, "arm reaches forward, the elbow is almost straight, the palm faces forward, the wrist is bent back"},
		"median-neck":    {side + ", the palm faces away from you, the wrist is bent back, the head is upright", side + ", the palm faces up, the " + line + "the head is tipped away"},
		"median-slider":  {hangs + "almost straight, the palm faces forward, the " + line, hangs + "bent, the palm faces up, the wrist is bent back"},
		"median-fingers": {hangs + "bent, the palm faces up, the " + line + "the head", hangs + "bent, the palm faces up, the " + line + "the fingers are spread"},
		"ulnar-elbow":    {side + ", the palm faces up, the " + line, "arm is out to the side, the elbow is bent, the palm faces toward the shoulder, the " + line},
		"ulnar-slider":   {hangs + "almost straight, the palm faces forward, the " + line, hangs + "bent, the palm faces toward you, the wrist is bent toward the palm"},
		"radial-wrist":   {side + ", the palm faces behind you, the " + line, side + ", the palm faces toward the shoulder, the wrist is bent toward the palm"},
		"radial-slider":  {hangs + "almost straight, the palm faces behind you, the " + line, hangs + "bent, the palm faces toward you, the wrist is bent toward the palm"},
	} {
		g, _ := glides.Find(name)
		for moment, text := range want {
			if got := figure.Describe(*g.Figure, figure.Options{Moment: float64(moment)}); !strings.Contains(got, text) {
				t.Errorf("%s at %d: %q does not say %q", name, moment, got, text)
			}
			for _, left := range []bool{false, true} {
				svg := figure.Draw(*g.Figure, figure.Options{Moment: float64(moment), Arrow: moment == 1, Left: left, Labels: true})
				if !strings.Contains(svg, ">palm") {
					t.Errorf("%s at %d, left %t: nothing beside the hand says where the palm faces", name, moment, left)
				}
			}
		}
	}
	// "The hand stays about as high as it began."
	g, _ := glides.Find("median-elbow")
	begin, end := figure.Wrist(g.Figure.Start), figure.Wrist(g.Figure.End)
	if math.Abs(begin[1]-end[1]) > 3 || end[2]-begin[2] < 15 {
		t.Errorf("median-elbow: the wrist moves from %.1f to %.1f", begin, end)
	}
}

// Where forearm and wrist move together, each has its arrow.
func TestArrows(t *testing.T) {
	head := regexp.MustCompile(`<path d="[^"]*Z" fill="currentColor"`)
	for name, want := range map[string]int{"median-wrist": 1, "median-elbow": 2, "median-neck": 2, "median-slider": 2, "median-fingers": 2, "ulnar-elbow": 1, "radial-slider": 2} {
		g, _ := glides.Find(name)
		if got := len(head.FindAllString(figure.Draw(*g.Figure, figure.Options{Moment: 1, Arrow: true}), -1)); got != want {
			t.Errorf("%s has %d arrows, want %d", name, got, want)
		}
	}
}

var inPath = regexp.MustCompile(`([MLC ])(-?[0-9.]+) `)

func TestLeftIsTheMirror(t *testing.T) {
	mirror := func(svg string) string {
		paths := regexp.MustCompile(` d="[^"]*"`)
		return paths.ReplaceAllStringFunc(svg, func(d string) string {
			return inPath.ReplaceAllStringFunc(d, func(m string) string {
				x, err := strconv.ParseFloat(m[1:len(m)-1], 64)
				if err != nil {
					return m
				}
				return fmt.Sprintf("%c%g ", m[0], math.Round(10*(240-x))/10)
			})
		})
	}
	words := regexp.MustCompile(`<text.*?</text>|aria-label="[^"]*"|<title>[^<]*`)
	for _, g := range glides.All() {
		for _, moment := range []float64{0, .3, 1} {
			o := figure.Options{Moment: moment, Arrow: true, Labels: true}
			right := figure.Draw(*g.Figure, o)
			o.Left = true
			left := figure.Draw(*g.Figure, o)
			if got, want := words.ReplaceAllString(left, ""), words.ReplaceAllString(mirror(right), ""); got != want || left == right {
				t.Errorf("%s at %g: left is not the mirror of right", g.Name, moment)
			}
			if !strings.Contains(left, "the left ") || strings.Contains(left, "the right ") {
				t.Errorf("%s: the left one is described as %s", g.Name, figure.Describe(*g.Figure, o))
			}
		}
	}
}

// check reads a picture as XML and returns its title. Nothing in it may clash with
// another picture of the same page, or with the style of the page.
func check(t interface{ Fatalf(string, ...any) }, svg string) (title string) {
	d := xml.NewDecoder(strings.NewReader(svg))
	var open []string
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			return title
		}
		if err != nil {
			t.Fatalf("%v in %s", err, svg)
		}
		switch token := token.(type) {
		case xml.StartElement:
			open = append(open, token.Name.Local)
			for _, a := range token.Attr {
				switch a.Name.Local {
				case "id", "href", "class", "style":
					t.Fatalf("%s has the attribute %s", token.Name.Local, a.Name.Local)
				case "d", "x", "y", "viewBox", "stroke-width":
					if strings.ContainsAny(a.Value, "NIe") || strings.Contains(a.Value, "url") {
						t.Fatalf("%s=%q", a.Name.Local, a.Value)
					}
				}
			}
		case xml.EndElement:
			open = open[:len(open)-1]
		case xml.CharData:
			if len(open) > 0 && open[len(open)-1] == "title" {
				title += string(token)
			}
		}
	}
}

func TestHostileTitle(t *testing.T) {
	g, _ := glides.Find("median-wrist")
	const hostile = "</title><script>alert(1)</script>\" onload='x' & \x00 ]]>"
	for _, svg := range []string{
		figure.Draw(*g.Figure, figure.Options{Title: hostile}), figure.DrawPair(*g.Figure, figure.Options{Title: hostile}),
	} {
		title := check(t, svg)
		if want := strings.Replace(hostile, "\x00", "\uFFFD", 1); !strings.HasPrefix(title, want+". Seen from the front:") {
			t.Errorf("the title is %q", title)
		}
	}
}

// Whatever angles a file gives, there is a picture.
func TestAnyPoseIsDrawn(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		pose := func(name string) (p figure.Pose) {
			for _, j := range figure.Joints {
				*j.Angle(&p) = float64(rapid.IntRange(int(j.Least), int(j.Most)).Draw(t, name+" "+j.Key))
			}
			return p
		}
		f := figure.Figure{
			View:    figure.View(rapid.SampledFrom(figure.Views).Draw(t, "view")),
			CloseUp: figure.View(rapid.SampledFrom(append([]string{""}, figure.CloseUps...)).Draw(t, "close-up")),
			Sitting: rapid.Bool().Draw(t, "sitting"), Start: pose("start"), End: pose("end"),
		}
		if rapid.Bool().Draw(t, "goes beyond") {
			back := pose("back")
			f.Back = &back
		}
		o := figure.Options{Moment: rapid.Float64Range(0, 1).Draw(t, "moment"), Share: rapid.SampledFrom([]float64{0, .5, .75, 1}).Draw(t, "share"), Arrow: true, Labels: true}
		svg := figure.Draw(f, o)
		check(t, svg)
		if !strings.HasPrefix(svg, "<svg ") || strings.Count(svg, "<svg") != 1 {
			t.Fatalf("not one svg: %s", svg)
		}
	})
}
