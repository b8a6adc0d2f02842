package buzzer

import "time"

// Pulse is one buzz of a pattern.
type Pulse struct {
	Strength float64       // above 0, up to 1
	Length   time.Duration // of the drive; the motor speeds up in it, and slows down after it
	Gap      time.Duration // until the next pulse; with 0 the two are felt as one
}

// Pattern is a few pulses that mean one thing.
type Pattern struct {
	Name   string
	Feel   string // what it feels like, in words for a person
	Pulses []Pulse
}

// apart is the least time between two pulses that are to be felt as two: 80 to
// 90 ms or more (Jurado et al. 2021, doi 10.1163/22134468-bja10043).
const apart = 90 * time.Millisecond

// There are two strengths: half, at which common small motors still turn once they
// run, and full. A person can tell these apart; more steps would be hard to tell.
const soft, strong = 0.5, 1.0

// A soft pulse is a kick of 30 ms and then whole bursts of 10 ms off and 10 ms on. So
// it takes 30 ms and a multiple of 20, and 10 ms more if a strong one follows without a
// gap. After a strong one it has no kick.
const ms = time.Millisecond

// The patterns are the same in every session and for everybody.
var (
	Inhale = Pattern{"inhale", "two pulses, soft then strong", []Pulse{
		{soft, 110 * ms, 110 * ms}, {strong, 150 * ms, 0}}}
	Exhale = Pattern{"exhale", "two pulses, strong then soft", []Pulse{
		{strong, 150 * ms, 110 * ms}, {soft, 110 * ms, 0}}}
	OutExhale = Pattern{"out on the exhale", "one pulse, strong then soft", []Pulse{
		{strong, 150 * ms, 0}, {soft, 110 * ms, 0}}}
	OutInhale = Pattern{"out on the inhale", "one pulse, soft then strong", []Pulse{
		{soft, 120 * ms, 0}, {strong, 150 * ms, 0}}}
	Turn = Pattern{"turn", "two short taps", []Pulse{
		{strong, 70 * ms, 110 * ms}, {strong, 70 * ms, 0}}}
	Rest = Pattern{"rest", "three soft pulses, slow and even", []Pulse{
		{soft, 110 * ms, 290 * ms}, {soft, 110 * ms, 290 * ms}, {soft, 110 * ms, 0}}}
	Done = Pattern{"done", "four long slow pulses, two strong and two soft", []Pulse{
		{strong, 210 * ms, 200 * ms}, {strong, 210 * ms, 200 * ms}, {soft, 210 * ms, 200 * ms}, {soft, 210 * ms, 0}}}
	Stop = Pattern{"stop", "one long even buzz", []Pulse{
		{strong, 600 * ms, 0}}}
	CannotStart = Pattern{"cannot start", "five quick taps, a stutter", []Pulse{
		{strong, 70 * ms, 110 * ms}, {strong, 70 * ms, 110 * ms}, {strong, 70 * ms, 110 * ms}, {strong, 70 * ms, 110 * ms}, {strong, 70 * ms, 0}}}
)

// Patterns returns all patterns, in the order in which a person meets them.
func Patterns() []Pattern {
	return []Pattern{Rest, Inhale, Exhale, OutExhale, OutInhale, Turn, Done, Stop, CannotStart}
}

// Length returns how long the pattern lasts, from its first pulse to the end
// of its last.
func (p Pattern) Length() time.Duration {
	var sum, gap time.Duration
	for _, pulse := range p.Pulses {
		sum += gap + pulse.Length
		gap = pulse.Gap
	}
	return sum
}
