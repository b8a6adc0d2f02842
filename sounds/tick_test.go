package sounds

import (
	"testing"
	"time"

	"glidepace/pacer"
)

func TestTicksBeginOnTheFirstFrameOfEachStepOfASet(t *testing.T) {
	both(t, func(t *testing.T, line *pacer.Timeline) {
		ticks := newScore(line, with(100)).whole()
		for n, x := range withoutTicks(line).whole() {
			ticks[n] -= x
		}
		sets := 0
		for i, step := range line.Steps {
			from, to := span(line, i)
			inStep := ticks[from:to]
			if !step.InSet() {
				if !silent(inStep) {
					t.Errorf("step %d, move %v: ticks", i, step.Move)
				}
				continue
			}
			sets++
			if inStep[0] == 0 || !silent(inStep[tickLength:]) {
				t.Errorf("step %d: no tick on its first frame, or more than one", i)
			}
		}
		if sets == 0 || !silent(ticks[frame(line.Duration):]) {
			t.Errorf("%d steps in sets, or ticks after the last", sets)
		}
	})
}

// The loudest of a tick comes within 5 ms of its start.
func TestTickAttack(t *testing.T) {
	loudest := 0
	for k, x := range tickSamples {
		if x > tickSamples[loudest] {
			loudest = k
		}
	}
	if at := SampleRate.D(loudest); at >= 5*time.Millisecond {
		t.Errorf("loudest after %v", at)
	}
}

func TestTickWithoutRoomFadesOut(t *testing.T) {
	s := &score{ticks: []tick{newTick(0, 480), newTick(480, 48000)}, frames: 48000}
	all := s.whole()
	if all[0] != tickSamples[0] || all[480] != tickSamples[0] {
		t.Errorf("ticks begin with %v and %v", all[0], all[480])
	}
	if x := all[479]; x < -1e-4 || x > 1e-4 {
		t.Errorf("cut off at %v", x)
	}
}
