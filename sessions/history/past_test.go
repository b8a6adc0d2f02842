package history

import (
	"testing"

	"glidepace/sessions/diary"
)

// Rules or a dose that no session file can have come from damage: the session is then
// judged by today's.
func TestRulesThatCannotBe(t *testing.T) {
	const sound = `{"level":{"reps":10,"rate":1},"rules":{"goal":10,"reps_from":6,"add":2,"after":3,"days":2,"fewer_reps":2,"slower":0.1,"settle_within_ns":120000000000}}`
	if e := ProgressEntry(diary.Session{Plan: sound}); e.Rules == nil || e.Rules.Goal != 10 {
		t.Errorf("sound rules: %+v", e.Rules)
	}
	for _, rules := range []string{
		`{"goal":0,"add":1,"after":3}`, `{"goal":10,"reps_from":11,"add":1,"after":3}`, `{"goal":10,"reps_from":-1,"add":1,"after":3}`,
		`{"goal":10,"add":0,"after":3}`, `{"goal":10,"add":1,"after":0}`, `{"goal":10,"add":1,"after":3,"days":-1}`,
		`{"goal":10,"add":1,"after":3,"fewer_reps":-1}`, `{"goal":10,"add":1,"after":3,"slower":0.6}`, `{"goal":10,"add":1,"after":3,"settle_within_ns":-1}`,
	} {
		if e := ProgressEntry(diary.Session{Plan: `{"level":{"reps":10,"rate":1},"rules":` + rules + `}`}); e.Rules != nil {
			t.Errorf("%s: %+v", rules, e.Rules)
		}
	}
	for dose, want := range map[string]bool{
		`{"per_day_min":1,"per_day_max":5,"days":182,"start":"2026-12-01"}`: true,
		`{"per_day_min":0,"per_day_max":1}`:                                 false,
		`{"per_day_min":2,"per_day_max":1}`:                                 false,
		`{"per_day_min":1,"per_day_max":6}`:                                 false,
		`{"per_day_min":1,"per_day_max":1,"days":183}`:                      false,
		`{"per_day_min":1,"per_day_max":1,"days":-1}`:                       false,
		`{"per_day_min":1,"per_day_max":1,"start":"tomorrow"}`:              false,
	} {
		if _, ok := ReadPlan(`{"dose":` + dose + `}`); ok != want {
			t.Errorf("dose %s can be read: %v, want %v", dose, ok, want)
		}
	}
}
