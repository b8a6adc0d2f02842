package history

import (
	"testing"

	"glidepace/sessions/diary"
)

// Rules that no session file can have come from damage: the session is then judged
// by today's.
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
}
