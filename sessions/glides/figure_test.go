package glides

import (
	"testing"

	"glidepace/sessions/glides/figure"
)

// loads says in which direction a joint loads a nerve, 1 or -1: for the median nerve
// Coppieters & Butler, Man Ther 2008;13:213–221 (elbow and wrist) and Coppieters, Hough &
// Dilley, J Orthop Sports Phys Ther 2009;39:164–171 (neck); for spread fingers Meng et
// al., Arch Phys Med Rehabil 2015;96:2207–2213; for the other two anatomy, from memory,
// as in the files of their sliders.
var loads = map[string]map[string]float64{
	"median": {"elbow": -1, "wrist": 1, "head": 1, "spread": 1}, // elbow straight, wrist back, head away
	"ulnar":  {"elbow": 1, "wrist": 1, "head": 1},               // elbow bent, wrist back
	"radial": {"elbow": -1, "wrist": -1, "head": 1},             // elbow straight, wrist to the palm
}

// The angles of a glide make it what its kind says: a slider loads at one joint and
// eases at another, a tensioner loads at two, and in a single one joint moves.
func TestAnglesAgreeWithTheKind(t *testing.T) {
	for _, g := range all(t) {
		if g.Figure == nil {
			t.Errorf("%s has no figure", g.Name)
			continue
		}
		begin, end := g.Figure.At(0, 1), g.Figure.At(1, 1)
		loaded, eased, moved := 0, 0, 0
		for _, j := range figure.Joints {
			way := *j.Angle(&end) - *j.Angle(&begin)
			if way != 0 {
				moved++
			}
			switch load := way * loads[g.Nerve][j.Key]; {
			case load > 0:
				loaded++
			case load < 0:
				eased++
			}
		}
		var agrees bool
		switch g.Kind {
		case "slider":
			agrees = loaded == 1 && eased == 1
		case "tensioner":
			agrees = loaded == 2 && eased == 0
		case "single":
			agrees = moved == 1 && loaded == 1
		}
		if !agrees {
			t.Errorf("%s is a %s, but %d joints load, %d ease and %d move", g.Name, g.Kind, loaded, eased, moved)
		}
		if g.Neck != (begin.Head != end.Head) {
			t.Errorf("%s: neck %t, but the head moves from %g to %g", g.Name, g.Neck, begin.Head, end.Head)
		}
		if g.Raised != (begin.ShoulderOut > 30) {
			t.Errorf("%s: raised %t, but the arm is %g° out", g.Name, g.Raised, begin.ShoulderOut)
		}
	}
}

// At no moment do two joints pull on the nerve together: "the two never pull together".
func TestNeckGlideNeverPullsAtBothEnds(t *testing.T) {
	g, _ := Find("median-neck")
	for i := range 101 {
		for _, share := range []float64{1, .75, .5} {
			if p := g.Figure.At(float64(i)/100, share); p.Head > 0 && p.Wrist > 0 {
				t.Fatalf("at %d %% the head is tipped by %g° while the wrist is bent back by %g°", i, p.Head, p.Wrist)
			}
		}
	}
}

func TestAnglesAreThoseOfHealthyJoints(t *testing.T) {
	for _, g := range all(t) {
		for _, moment := range []float64{0, .5, 1} {
			p := g.Figure.At(moment, 1)
			for _, j := range figure.Joints {
				if a := *j.Angle(&p); a < j.Least || a > j.Most {
					t.Errorf("%s at %g: %s is %g°, allowed are %g to %g", g.Name, moment, j.Key, a, j.Least, j.Most)
				}
			}
			// No elbow locks: "the elbow stays soft".
			if p.Elbow < 5 {
				t.Errorf("%s at %g: the elbow is straight", g.Name, moment)
			}
		}
	}
}
