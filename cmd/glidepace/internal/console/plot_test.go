package console

import "testing"

func TestBar(t *testing.T) {
	for _, c := range []struct {
		share float64
		want  string
	}{
		{0, "................|...."},
		{0.049, "................|...."},
		{0.05, "#...............|...."},
		{11.0 / 20, "###########.....|...."},
		{0.7999, "###############.|...."},
		{24.0 / 30, "################|...."},
		{24.0 / 28, "################|#..."}, // 17.1 cells
		{1, "################|####"},
	} {
		if got := plainPlot.Bar(c.share, 0.8); got != c.want {
			t.Errorf("%g: %s, want %s", c.share, got, c.want)
		}
	}
	if got, want := blockPlot.Bar(0.5, 0.8), "██████████░░░░░░│░░░░"; got != want {
		t.Errorf("%s, want %s", got, want)
	}
}

func TestRatings(t *testing.T) {
	for _, c := range []struct {
		before, after float64
		want          string
	}{
		{0, 10, "o...................x"},
		{4, 2, "....x...o............"},
		{2.5, 3, ".....ox.............."},
		{3, 3, "......*.............."},
	} {
		if got := plainPlot.Ratings(c.before, c.after); got != c.want {
			t.Errorf("%g, %g: %q, want %q", c.before, c.after, got, c.want)
		}
	}
}

func TestUTF8Locale(t *testing.T) {
	for _, c := range []struct {
		all, ctype, lang string
		want             bool
	}{
		{"", "", "", false},
		{"", "", "en_GB.UTF-8", true},
		{"", "", "C.utf8", true},
		{"", "", "C", false},
		{"C", "", "en_GB.UTF-8", false},
		{"", "de_DE.ISO-8859-1", "en_GB.UTF-8", false},
	} {
		env := map[string]string{"LC_ALL": c.all, "LC_CTYPE": c.ctype, "LANG": c.lang}
		if got := utf8Locale(func(name string) string { return env[name] }); got != c.want {
			t.Errorf("%v: %t", env, got)
		}
	}
}
