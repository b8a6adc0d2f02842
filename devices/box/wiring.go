package box

// Wire is one wire from the board's header.
type Wire struct {
	Part   string `json:"part"`       // "buzzer", "button", "light" or "clock"
	Line   string `json:"line"`       // as the box file has it, "GPIO17"; else "3.3 V" or "ground"
	Header int    `json:"header_pin"` // of the 40-pin header, 1–40
	To     string `json:"to"`         // where it leads, through what
}

// The values of the resistors. A pin gives 3.3 V, and by default no more than
// 8 mA, on the newest boards 4 mA (Raspberry Pi documentation, GPIO pads).
//
// The gate's resistor limits the current that charges the gate to 3.3 mA. The
// pull-down is much stronger than the chip's own pulls (about 50 kΩ, from
// memory), so the motor is off while nothing drives the pin; with the gate's
// resistor it leaves 3.0 V for the gate. It cannot pull down a pin that is left
// driven high. About 3 mA flow through the light's resistor. The button's
// resistor prevents a short circuit where its pin was made an output by mistake.
const (
	gateResistor   = "1 kΩ"
	pullDown       = "10 kΩ"
	buttonResistor = "1 kΩ"
	lightResistor  = "470 Ω"
)

// Pins of the header that are not GPIOs.
const (
	motorSupply = 17 // 3.3 V
	clockSupply = 1  // 3.3 V
)

var grounds = [...]int{6, 9, 14, 20, 25, 30, 34, 39}

// Wiring returns all wires of the box, part by part.
func (f *File) Wiring() []Wire {
	taken := map[int]bool{}
	ground := func(near string) int {
		best, least := 0, 41
		for _, g := range grounds {
			if d := max(g-headerPin(near), headerPin(near)-g); d < least && !taken[g] {
				best, least = g, d
			}
		}
		taken[best] = true
		return best
	}
	pin := func(part, name, to string) Wire { return Wire{part, name, headerPin(name), to} }
	w := []Wire{
		pin("buzzer", f.Buzzer, gateResistor+" resistor to the transistor's gate; "+pullDown+" pull-down from the gate to the source"),
		{"buzzer", "3.3 V", motorSupply, "motor, then the transistor's drain; flyback diode across the motor, its stripe on the 3.3 V side"},
		{"buzzer", "ground", ground(f.Buzzer), "the transistor's source"},
		pin("button", f.Button, buttonResistor+" resistor to one side of the button; the chip's own pull-up is used"),
		{"button", "ground", ground(f.Button), "the other side of the button"},
		pin("light", f.Light, lightResistor+" resistor to the LED's long leg (anode)"),
		{"light", "ground", ground(f.Light), "the LED's short leg (cathode)"},
	}
	if f.BatteryClock {
		w = append(w,
			Wire{"clock", "3.3 V", clockSupply, "the module's supply (VCC)"},
			pin("clock", "GPIO2", "the module's I²C data (SDA)"),
			pin("clock", "GPIO3", "the module's I²C clock (SCL)"),
			Wire{"clock", "ground", ground("GPIO3"), "the module's ground (GND)"})
	}
	return w
}

// Parts describes the parts around the motor in general terms.
var Parts = []string{
	"Motor: a small vibration motor for about 3 V that takes 120 mA or less as it starts.",
	"Transistor: an N-channel MOSFET that is fully on at 2.5 V at its gate and carries 0.5 A or more. The GPIO pin only switches it; the motor's current never passes the pin.",
	"Flyback diode: a small Schottky diode for 0.5 A or more. A motor that is switched off drives its current on for a moment; the diode leads it round, and it does not go through the transistor.",
	"Pull-down: close to the transistor. It keeps the motor off while nothing drives the pin, as when the board boots or a wire is gone; against a pin that is left driven high it does nothing.",
	"Optional, and not designed here: a time-out on the gate (such as a capacitor in series and a resistor that bleeds it, so that a level that stays high lets the motor stop after some seconds) is a further safeguard, above all for a box that is lent; it needs somebody who knows electronics.",
}
