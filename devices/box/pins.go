package box

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"glidepace/sessions/fields"
)

// headerPins has the pin of the 40-pin header at which each GPIO stands, as it
// has been on every board that has this header (common knowledge, from memory).
// The others are 3.3 V (1, 17), 5 V (2, 4) and ground (6, 9, 14, 20, 25, 30,
// 34, 39).
var headerPins = [...]int{
	27, 28, 3, 5, 7, 29, 31, 26, // GPIO0–7
	24, 21, 19, 23, 32, 33, 8, 10, // GPIO8–15
	36, 11, 12, 35, 38, 40, 15, 16, // GPIO16–23
	18, 22, 37, 13, // GPIO24–27
}

// pulledUp is the last GPIO that the chip pulls up from power-on until a
// program takes it: 0–8 are, 9–27 are pulled down (BCM2835 ARM Peripherals,
// table 6-31, read in a secondary text). A motor or a lamp on such a pin would
// be on while the board boots.
const pulledUp = 8

// reserved says what else uses a GPIO on a board as it comes, or on one with a
// battery clock. SPI (7–11), PWM (12, 13, 18, 19) and digital sound (18–21) are
// not among them: they take their pins only where the board's config.txt asks
// for it (from memory), and then the kernel tells that a pin is busy.
var reserved = map[int]string{
	0:  "the board's start-up looks for an add-on board's memory there",
	1:  "the board's start-up looks for an add-on board's memory there",
	2:  "it is the data line of I²C, which a battery clock needs, with a pull-up of the board's own",
	3:  "it is the clock line of I²C, which a battery clock needs, with a pull-up of the board's own",
	14: "it is the sending line of the UART, to which a starting board may write",
	15: "it is the receiving line of the UART, from which a starting board may read",
}

const (
	outputPins = "GPIO9 to GPIO13, GPIO16 to GPIO27"
	inputPins  = "GPIO4 to GPIO13, GPIO16 to GPIO27"
)

// HeaderPin returns at which pin of the 40-pin header a GPIO stands, 0 for a
// name other than GPIO0 to GPIO27.
func HeaderPin(name string) int {
	for n, pin := range headerPins {
		if name == gpio(n) {
			return pin
		}
	}
	return 0
}

func gpio(n int) string { return "GPIO" + strconv.Itoa(n) }

// withHeader names a pin as its line and as its place.
func withHeader(name string) string {
	return fmt.Sprintf("%s (header pin %d)", name, HeaderPin(name))
}

var numbered = regexp.MustCompile(`^([A-Za-z]*)[ _-]?0*([0-9]+)$`)

// pinNumber returns the number of a GPIO, or what is wrong with its name.
func pinNumber(name string) (n int, wrong string) {
	wrong = fields.Quote(name) + " is not the name of a pin"
	m := numbered.FindStringSubmatch(name)
	if m == nil {
		return 0, wrong
	}
	n, err := strconv.Atoi(m[2])
	if err != nil {
		return 0, wrong
	}
	prefix := strings.ToUpper(m[1])
	switch meant := prefix == "GPIO" || prefix == "BCM"; {
	case !meant: // it may count GPIOs or pins of the header
		for other, pin := range headerPins {
			if pin == n {
				wrong += fmt.Sprintf("; at header pin %d stands %s", n, gpio(other))
			}
		}
		if n < len(headerPins) {
			wrong += fmt.Sprintf("; %s stands at header pin %d", gpio(n), headerPins[n])
		}
	case n >= len(headerPins):
	case name != gpio(n):
		wrong += fmt.Sprintf(" (did you mean %s, at header pin %d?)", gpio(n), headerPins[n])
	default:
		return n, ""
	}
	return 0, wrong
}

// refusePin says why a pin cannot be used for a part, "" if it can.
func refusePin(name string, output bool) string {
	n, wrong := pinNumber(name)
	switch {
	case wrong != "":
		return wrong
	case reserved[n] != "":
		return withHeader(name) + " is reserved: " + reserved[n]
	case output && n <= pulledUp:
		return withHeader(name) + " is pulled up while the board boots, and what is wired to it would be on"
	}
	return ""
}
