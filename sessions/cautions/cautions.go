// Package cautions holds what a person is told so that nerve glides do no
// harm. The lists are common practice, from memory: each clinic should review
// them, and local rules and the person's own clinician come first.
package cautions

// Deference is the sentence that stands beside every list.
const Deference = "These lists are common practice, not a source: your clinician and local rules come first, and each clinic should review them. " +
	"glidepace paces a session that a licensed clinician prescribed and taught. It diagnoses nothing and is not a medical device."

// BeforeSession is for the patient: in full at the first session of a
// prescription, and whenever asked for.
var BeforeSession = []string{
	"Only the movements you were taught: gentle, slow, smooth. The pause is shorter than a second, never a hold or a stretch.",
	"Mild tingling may come; it should be gone within a couple of minutes. Strong tingling or numbness: stop, let the arm hang and loosen it. Go on only when it is back to where it was, slower and smaller.",
	"Pain: stop for today and tell your clinician.",
	"Breathe softly, not deeply. Light-headed, tingling around the mouth, short of breath: leave the pacing and breathe as you like.",
	"Not while driving, nor anywhere a lapse of attention is dangerous. Sit down if slow breathing makes you dizzy.",
}

// InBrief is BeforeSession in one line, for every session after the first.
const InBrief = "Gentle and slow. Strong tingling: stop and loosen. Pain: stop for today. Light-headed: breathe as you like."

// SeeClinician lists what wants a clinician promptly instead of exercises.
var SeeClinician = []string{
	"Weakness that grows, or numbness that does not go away; symptoms in both hands, or in hands and legs; new clumsiness or unsteady walking; loss of bladder or bowel control; fever, a hot swollen joint or a fresh injury; recent surgery on the nerve or the limb unless the surgeon agreed.",
	"With the neck glide: dizziness, double vision, fainting, trouble speaking or swallowing, or unsteadiness when the head moves; neck pain or symptoms that began with a neck injury.",
	"Call emergency services: chest pain or breathlessness; sudden numbness or weakness of one side, a drooping face or slurred speech.",
	"Pregnancy, heart or lung disease, epilepsy, panic disorder: ask before pacing the breath.",
}

// Volume is how loud a session may be.
const Volume = "Start with the sound low; with headphones, low enough that speech around you can still be heard."
