package diary

import (
	"errors"
	"reflect"
	"strings"
	"testing"
	"testing/iotest"

	"glidepace/sessions"
)

func day(t testing.TB, text string) sessions.Date {
	t.Helper()
	d, err := sessions.ParseDate(text)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// sheet asks for ten repetitions, and has no day after the fourteenth.
func sheet(t testing.TB) Sheet {
	last := day(t, "2026-12-14")
	return Sheet{Repetitions: 10, CheckDate: func(d sessions.Date) error {
		if d.DaysSince(last) > 0 {
			return errors.New("not on paper")
		}
		return nil
	}}
}

const goodTicks = `date,done,repetitions,tingling_before,pain_before,tingling_after,pain_after,note,n,not_settled
2026-12-01,y,,2,0,3,0,"cold hands, ""stiff""",,n
2026-12-02,Yes,8,,,,,,1,
2026-12-02,x,10,10,,0,,,2,Y
2026-12-03,n,,,,,,,,
2026-12-04,,0,,,,,,,no

,,,,,,,,,
2026-12-14,1
`

func wantTicks() []Tick {
	return []Tick{
		{Date: "2026-12-01", Number: 1, Repetitions: 10, All: true, Before: sessions.Ratings{Tingling: of(2), Pain: of(0)}, After: sessions.Ratings{Tingling: of(3), Pain: of(0)}, Note: `cold hands, "stiff"`},
		{Date: "2026-12-02", Number: 1, Repetitions: 8},
		{Date: "2026-12-02", Number: 2, Repetitions: 10, Before: sessions.Ratings{Tingling: of(10)}, After: sessions.Ratings{Tingling: of(0)}, NotSettled: true},
		{Date: "2026-12-14", Number: 1, Repetitions: 10, All: true},
	}
}

func TestTicksAsSpreadsheetsWriteThem(t *testing.T) {
	semicolons := strings.ReplaceAll(strings.ReplaceAll(goodTicks, ",", ";"), "hands;", "hands,")
	for name, text := range map[string]string{
		"commas":               goodTicks,
		"semicolons":           semicolons,
		"byte order mark":      "\uFEFF" + goodTicks,
		"CRLF":                 strings.ReplaceAll(goodTicks, "\n", "\r\n"),
		"all of them":          "\uFEFF" + strings.ReplaceAll(semicolons, "\n", "\r\n"),
		"dates with dots":      strings.NewReplacer("2026-12-0", "0", "2026-12-14", "14.12.2026", ",", ",").Replace(dots(goodTicks)),
		"no line end":          strings.TrimSuffix(goodTicks, "\n"),
		"blanks around":        strings.ReplaceAll(goodTicks, "2026-12-02,Yes", " 2026-12-02 , Yes "),
		"names in capitals":    strings.Replace(goodTicks, "date,done", "Date,DONE", 1),
		"a blank line on top":  "\r\n" + semicolons,
		"columns shifted":      "note,n,date,done\n\"cold hands, \"\"stiff\"\"\",,2026-12-01,y\n",
		"only what it must be": "date,done\n2026-12-14,true\n",
	} {
		got, err := ReadTicks("ticks.csv", strings.NewReader(text), sheet(t))
		want := wantTicks()
		switch name {
		case "columns shifted":
			want = []Tick{{Date: "2026-12-01", Number: 1, Repetitions: 10, All: true, Note: want[0].Note}}
		case "only what it must be":
			want = want[3:]
		}
		if err != nil || !reflect.DeepEqual(got, want) {
			t.Errorf("%s: %v\n%+v, want\n%+v", name, err, got, want)
		}
	}
}

// dots writes the dates as some countries do.
func dots(text string) string {
	for _, d := range []string{"01", "02", "03", "04"} {
		text = strings.ReplaceAll(text, "2026-12-"+d, strings.TrimPrefix(d, "0")+".12.2026")
	}
	return text
}

func TestEverythingWrongWithTicks(t *testing.T) {
	const header = "date,done,repetitions,tingling_before,pain_after,note,n\n"
	for text, want := range map[string]string{
		"":               "1:1: the file is empty; its first line names the columns: date,done,",
		header:           "1:1: below its first line the file has none for a session",
		header + ",,,\n": "1:1: below its first line the file has none for a session",
		"Datum;done;Notiz;done\n1.12.2026;y;;\n": `1:1: there is no column "datum"; allowed are date, done, repetitions,` + "|" +
			`1:1: the column "date" is missing` + "|" + `1:12: there is no column "notiz"` + "|" + `1:18: the column "done" stands twice`,
		header + "12/01/2026,y\n2026-12-32,y\n":                       `2:1: "12/01/2026" is no date; a date is written as 2026-12-01|3:1: "2026-12-32" is no date`,
		header + "2026-12-15,y\n2026-12-14,n\n2027-11-30,n\n":         "2:1: not on paper|4:1: not on paper",
		"date,done,not_settled\n2026-12-01,y,maybe\n2026-12-02,n,y\n": `2:14: not_settled is "maybe"; allowed is y for yes|3:14: "y" is of a session that was not done`,
		header + "2026-12-01,ja\n2026-12-02,2\n":                      `2:12: done is "ja"; allowed is y for yes, n or nothing for no|3:12: done is "2"`,
		header + "2026-12-01,y,11,11,-1,,6\n":                         `2:14: 11 repetitions|2:17: rating 11|2:20: "-1" is not a whole number|2:24: number 6 of the day`,
		header + "2026-12-01,y,11,11,12,,6\n":                         "2:14: 11 repetitions; allowed is 1 to 10|2:17: rating 11; allowed is 0 to 10|2:20: rating 12|2:24: number 6 of the day",
		header + "2026-12-01,ja,8,,,,x\n2026-12-01,y\n":               `2:12: done is "ja"|2:20: "x" is not a whole number`,
		header + "2026-12-01,n,,11\n":                                 `2:15: "11" is of a session that was not done`,
		header + "2026-12-01,y,0\n":                                   "2:14: 0 repetitions",
		header + "2026-12-01,y,8.0,two\n":                             `2:14: "8.0" is not a whole number|2:18: "two" is not a whole number`,
		header + "2026-12-01,,8,,,ill\n":                              `2:13: "8" is of a session that was not done; write y|2:17: "ill" is of a session that was not done`,
		header + "2026-12-01,y\n2026-12-01,n,,,,,1":                   "3:1: 2026-12-01, number 1, stands in line 2 already; number a day's sessions in a column n",
		header + "2026-12-01,y,,,,a,1,b\n":                            `2:21: "b" is in no column; put text that holds a comma`,
		header + "2026-12-01,y,,,,\"a\nb\",1\n":                       "2:17: a note is one line of plain text; take out the character U+000A",
		header + "2026-12-01,y,,,,\"aß\u202e\",7\n":                   "2:17: a note is one line of plain text; take out the character U+202E|2:23: number 7 of the day",
		header + ",y\n":                       `2:1: "" is no date`,
		header + "2026-12-01,y,,,,a\"b\n":     "2:18: a quote is in the wrong place",
		header + "2026-12-01,y,,,,\"a\n":      "a quote is in the wrong place",
		header + "2026-12-01,y,,,,sch\xf6n\n": "2:1: this is not text in UTF-8; save the file as CSV in UTF-8",
		"d\x00a\x00t\x00e\x00":                "1:1: this is not text in UTF-8",
		strings.Repeat("x", maxTicks+1):       "1:1: the file is larger than 1024 KiB",
		"note,n,date,done\n\"a\nb\",1,x\n":    `3:6: "x" is no date`,
		"note,date,done\nx\n":                 `2:1: "" is no date`,
	} {
		ticks, err := ReadTicks("ticks.csv", strings.NewReader(text), sheet(t))
		var all *sessions.Error
		if !errors.As(err, &all) || ticks != nil {
			t.Errorf("%.60q: %v, %+v", text, err, ticks)
			continue
		}
		lines := strings.Split(err.Error(), "\n")
		wanted := strings.Split(want, "|")
		if len(lines) != len(wanted) {
			t.Errorf("%.60q: it says\n%v\nwant %q", text, err, wanted)
			continue
		}
		for i, w := range wanted {
			if !strings.HasPrefix(lines[i], "ticks.csv:") || !strings.Contains(lines[i], w) {
				t.Errorf("%.60q: %q, want %q", text, lines[i], w)
			}
		}
	}
}

func TestTicksThatCannotBeRead(t *testing.T) {
	broken := errors.New("the stick was pulled out")
	if _, err := ReadTicks("ticks.csv", iotest.ErrReader(broken), sheet(t)); !errors.Is(err, broken) {
		t.Errorf("error %v", err)
	}
}

func FuzzReadTicks(f *testing.F) {
	if ticks, err := ReadTicks("", strings.NewReader(goodTicks), sheet(f)); err != nil || len(ticks) == 0 {
		f.Fatalf("the seed is no good: %v", err)
	}
	f.Add(goodTicks)
	f.Add(dots(strings.ReplaceAll(goodTicks, ",", ";")))
	f.Add("date,done\n\"2026-12-01\"\n,x,y\n")
	f.Fuzz(func(t *testing.T, text string) {
		sheet := sheet(t)
		ticks, err := ReadTicks("ticks.csv", strings.NewReader(text), sheet)
		var all *sessions.Error
		if err != nil && (!errors.As(err, &all) || ticks != nil) {
			t.Fatalf("error %v, %+v", err, ticks)
		}
		for _, tick := range ticks {
			if err := tick.Check(sheet.Repetitions); err != nil {
				t.Fatalf("%+v: %v", tick, err)
			}
		}
	})
}
