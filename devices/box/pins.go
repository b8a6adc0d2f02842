package box

import (
	"fmt"
	"regexp"
	"slices"
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

// pulledUp is the last GPIO that the chip pulls up from power-on until a program
// takes it: GPIO 0–8 are pulled up, 9–27 down (BCM2835 ARM Peripherals, table
// 6-31, read in a secondary text). A motor or a light on a pin that is pulled up
// would be on while the board boots.
const pulledUp = 8

// reserved says what else uses a GPIO on a board as it comes, or on one with a
// battery clock. SPI (7–11), PWM (12, 13, 18, 19) and digital sound (18–21) are
// not in it: they take their pins only where the board's config.txt says so
// (from memory), and then the kernel reports that a pin is busy.
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

// gpioNumber returns the number of a GPIO, -1 for a name other than GPIO0 to
// GPIO27.
func gpioNumber(name string) int {
	for n := range headerPins {
		if name == gpio(n) {
			return n
		}
	}
	return -1
}

func gpio(n int) string { return "GPIO" + strconv.Itoa(n) }

// headerPin returns at which pin of the header a GPIO stands, 0 where there is
// none of that name.
func headerPin(name string) int {
	if n := gpioNumber(name); n >= 0 {
		return headerPins[n]
	}
	return 0
}

// withHeader names a pin as its line and as its place.
func withHeader(name string) string {
	return fmt.Sprintf("%s (header pin %d)", name, headerPin(name))
}

var numbered = regexp.MustCompile(`^([A-Za-z]*)[ _-]?0*([0-9]+)$`)

// noPin says that there is no pin of a name, and which one may be meant.
func noPin(name string) string {
	text := fields.Quote(name) + " is not the name of a pin"
	m := numbered.FindStringSubmatch(name)
	if m == nil {
		return text
	}
	n, err := strconv.Atoi(m[2])
	if err != nil {
		return text
	}
	known := n < len(headerPins)
	switch strings.ToUpper(m[1]) {
	case "GPIO", "BCM":
		if known {
			text += fmt.Sprintf(" (did you mean %s, at header pin %d?)", gpio(n), headerPins[n])
		}
	default: // it may count GPIOs or pins of the header
		if other := slices.Index(headerPins[:], n); other >= 0 {
			text += fmt.Sprintf("; at header pin %d stands %s", n, gpio(other))
		}
		if known {
			text += fmt.Sprintf("; %s stands at header pin %d", gpio(n), headerPins[n])
		}
	}
	return text
}

// refusePin says why a pin cannot be used for a part, "" if it can.
func refusePin(name string, output bool) string {
	n := gpioNumber(name)
	switch {
	case n < 0:
		return noPin(name)
	case reserved[n] != "":
		return withHeader(name) + " is reserved: " + reserved[n]
	case output && n <= pulledUp:
		return withHeader(name) + " is pulled up while the board boots, and what is wired to it would be on"
	}
	return ""
}
