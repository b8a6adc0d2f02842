package pacer_test

import (
	"strings"
	"testing"

	"glidepace/pacer"
	"glidepace/sessions"
)

// The remarks of sets of some lengths, one letter for each repetition.
func TestRemarks(t *testing.T) {
	letters := map[pacer.Remark]string{pacer.NoRemark: ".", pacer.OneMore: "1",
		pacer.HalfDone: "h", pacer.ShoulderLow: "S", pacer.BreathFlows: "B"}
	for reps, want := range map[int]string{
		1: ".", 2: "1.", 4: "..1.", 5: "..S1.", 6: "..S.1.", 8: "..Sh.B1.", 10: "..S.hB..1.", 13: "..S..B..S..1.",
	} {
		both := exercise(reps)
		both.Side = sessions.Both
		s := paced(sessions.ExhaleOnGlide, 6, 1, both)
		s.LeadIn = 2
		line := mustNew(t, s)
		var got strings.Builder
		for _, step := range line.Steps {
			switch r := line.Remark(step); {
			case step.Move == pacer.Glide:
				got.WriteString(letters[r])
			case step.Rep == 0 && r != pacer.NoRemark:
				t.Errorf("%d repetitions: a remark %d outside of them", reps, r)
			}
		}
		if got.String() != want+want {
			t.Errorf("%d repetitions: %s, want %s of each side", reps, &got, want)
		}
	}
}
