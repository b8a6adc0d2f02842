// Package cautions holds what people are told so that nerve glides do no harm, each
// list once. The lists are common practice, from memory: each clinic should review
// them, and local rules and the person's own clinician come first. What concerns only
// one glide stands with it in the library.
package cautions

import (
	"slices"
	"strings"

	"glidepace/sessions/glides"
)

// Deference is the sentence that stands beside every list.
const Deference = "These lists are common practice, without a source. Your clinician and local rules come first, and each clinic should review the lists. " +
	"glidepace paces a session that a licensed clinician prescribed and taught. It diagnoses nothing and is not a medical device."

// BeforeSession is for the patient: at the first session of a prescription, and on
// request.
var BeforeSession = []string{
	"Only the movements you were taught. Gentle, slow, smooth; the pause is shorter than a second, never a hold or a stretch.",
	"Mild tingling may come; it should be gone within a couple of minutes. Strong tingling or numbness: stop, let the arm hang and loosen it; go on only when it is back to where it was, slower and smaller.",
	Pain,
	"Breathe softly, not deeply. Light-headed, tingling around the mouth, short of breath: leave the pacing, breathe as you like, sit down.",
	"Not while driving or anywhere a lapse of attention is dangerous.",
}

// Pain is what to do when it hurts, not only tingles.
const Pain = "Pain: stop for today. Tell your clinician."

// InBrief is BeforeSession in one line, for every session after the first.
const InBrief = "Be gentle. Strong tingling: stop. Pain: stop for today. Light-headed: stop, sit."

// NeckGlide is for the patient before every session with a glide that moves the head:
// the caution of the library's own neck glide.
func NeckGlide() string {
	g, _ := glides.Find("median-neck")
	return g.Caution
}

// OfGlide returns the cautions before every session with a glide: NeckGlide where the
// head moves, and the glide's own.
func OfGlide(g glides.Glide) (list []string) {
	if g.Neck {
		list = append(list, NeckGlide())
	}
	if g.Caution != "" && !slices.Contains(list, g.Caution) {
		list = append(list, g.Caution)
	}
	return list
}

// emergency lists what to call emergency services for.
var emergency = []string{
	"Chest pain; breathlessness that does not ease when you sit and stop pacing.",
	"Sudden numbness or weakness of one side, a drooping face, slurred speech.",
	"Sudden trouble with sight, speech or swallowing; a faint when the head moves.",
	"Loss of bladder or bowel control, or numbness between the legs.",
}

// sameDay lists what a clinician must see the same day.
var sameDay = []string{
	"Fever with a hot, swollen joint.",
	"A swollen, blue or cold arm.",
	"New severe neck pain or headache.",
	"Sudden falls without fainting.",
	"An electric shock down the back or limbs on bending the neck.",
}

// seeClinician lists what needs a clinician soon, and no exercises until then.
var seeClinician = []string{
	"Weakness that grows, or numbness that does not go away.",
	"New symptoms in both hands, or in hands and legs; new clumsiness or unsteady walking.",
	"Pain at night that nothing eases, or weight lost without reason.",
	"A fresh injury; recent surgery on the nerve, the limb, the neck or the armpit unless the surgeon agreed.",
}

// A person with any of these asks first: before pacing the breath, or before a glide
// that moves the head.
const (
	AskBreath = "pregnancy, heart or lung disease, epilepsy, panic disorder"
	AskNeck   = "rheumatoid arthritis of the neck, known lax ligaments, a history of cancer"
)

// otherHand says what the free hand does.
const otherHand = "The other hand holds the button or rests in the lap. If the shoulder rises, first make the movement smaller or lower the arm. A light touch may remind the shoulder; never press it down."

// Volume says how loud a session may be.
const Volume = "Start with the sound low; with headphones, low enough that speech around you can still be heard."

// Lending is for whoever builds or lends a buzzer box.
var Lending = []string{
	"Never drive a motor from a GPIO pin: a transistor, a flyback diode, a pull-down on the gate. Power off before wiring. Only a certified low-voltage supply; no mains inside the box. Local electrical rules apply.",
	"The strap goes on the other upper arm, or on a thigh or the waistband where both sides are worked or the other arm is affected: never on the arm, wrist or hand being treated, not over broken skin, not on the neck or chest, and not on people with an implanted pacemaker or stimulator unless their clinician agrees.",
	"A large button that needs little force, for the free hand.",
	"The buzzer is never on for longer than the software's limit, 20 s, and the program switches it off when it ends. If the program is killed outright, it cannot do that, and the kernel decides what the pin does (persist_gpio_outputs). The box has a service that switches the pin off; on a computer without that service nothing does. If a buzz does not stop, unplug.",
	"Clean it between patients as local infection control says; check the cable, the strap and the self-test.",
	"The patient's entries leave the box before the next loan; a memory card can keep traces of erased data, so lend with a fresh or encrypted card where local rules ask for it.",
}

// List is a list with its heading.
type List struct {
	Title string
	Items []string
}

// When returns the lists that say when not to exercise and whom to call. With neck they
// include what concerns glides that move the head.
func When(neck bool) []List {
	ask := []string{"Pacing the breath: " + AskBreath + "."}
	if neck {
		ask = append(ask, "The neck glide: "+AskNeck+".")
	}
	return []List{
		{"Call emergency services", emergency},
		{"See a clinician the same day", sameDay},
		{"See a clinician promptly instead of exercising", seeClinician},
		{"Ask before starting", ask},
	}
}

// Everything returns all lists for the patient; neck is as in When.
func Everything(neck bool) []List {
	lists := []List{{"Before a session", append(slices.Clone(BeforeSession), otherHand, Volume)}}
	if neck {
		lists = append(lists, List{"With a neck glide", []string{NeckGlide()}})
	}
	return append(lists, When(neck)...)
}

// unpaced takes out of a caution what is there only where something paces the session;
// unheld, the button.
var (
	unpaced = strings.NewReplacer("leave the pacing", "stop")
	unheld  = strings.NewReplacer("holds the button or rests", "rests")
)

// OnPaper returns the lists of Everything for somebody who has them on paper. Unless the
// session is paced, and unless there is a button, they do not speak of that.
func OnPaper(neck, paced, button bool) []List {
	lists := Everything(neck)
	before := &lists[0].Items
	if !paced {
		*before = slices.DeleteFunc(*before, func(item string) bool { return item == Volume })
	}
	for i, item := range *before {
		if !paced {
			item = unpaced.Replace(item)
		}
		if !button {
			item = unheld.Replace(item)
		}
		(*before)[i] = item
	}
	return lists
}
