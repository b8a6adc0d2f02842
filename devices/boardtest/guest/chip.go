//go:build real && linux

package main

import (
	"encoding/binary"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"time"
	"unsafe"

	"golang.org/x/sys/unix"

	"glidepace/devices/boardtest/plan"
)

// chip is the simulated GPIO chip, which looks like a Raspberry Pi's.
type chip struct {
	lines string // folder with a folder sim_gpioN for each line
	base  int    // number of line 0 in the kernel's trace
	dev   int    // descriptor of the chip's device

	mu   sync.Mutex
	seen []plan.Request
}

// label is the one of the Pi 4's header chip.
const label = "pinctrl-bcm2711"

// pulledUp is the number of lines, the first ones, that a Pi pulls up until a
// program says otherwise; the rest of its header's are pulled down (BCM2835
// ARM Peripherals, section 6.2).
const pulledUp = 9

func makeChip() (*chip, error) {
	config := "/sys/kernel/config/gpio-sim/board"
	bank := filepath.Join(config, "bank")
	if err := os.MkdirAll(bank, 0o755); err != nil {
		return nil, err
	}
	type setting struct{ file, value string }
	settings := []setting{{bank + "/num_lines", strconv.Itoa(plan.Lines)}, {bank + "/label", label}}
	for n := range plan.Lines {
		line := fmt.Sprintf("%s/line%d", bank, n)
		if err := os.Mkdir(line, 0o755); err != nil {
			return nil, err
		}
		settings = append(settings, setting{line + "/name", fmt.Sprintf("GPIO%d", n)})
	}
	for _, s := range append(settings, setting{config + "/live", "1"}) {
		if err := os.WriteFile(s.file, []byte(s.value), 0); err != nil {
			return nil, err
		}
	}
	device, err := read(config + "/dev_name")
	if err != nil {
		return nil, err
	}
	name, err := read(bank + "/chip_name")
	if err != nil {
		return nil, err
	}
	c := &chip{lines: filepath.Join("/sys/devices/platform", device, name)}
	for n := range pulledUp {
		if err := c.pull(fmt.Sprintf("GPIO%d", n), "pull-up"); err != nil {
			return nil, err
		}
	}
	if c.base, err = base(device); err != nil {
		return nil, err
	}
	path := "/dev/" + name
	if err := await(path); err != nil {
		return nil, err
	}
	// Pis have a second name for the same chip, which must do a program no harm.
	if err := os.Symlink(name, "/dev/gpiochip4"); err != nil {
		return nil, err
	}
	if c.dev, err = unix.Open(path, unix.O_RDWR|unix.O_CLOEXEC, 0); err != nil {
		return nil, err
	}
	return c, c.watch()
}

// base finds the number that the kernel's trace gives the chip's line 0.
func base(device string) (int, error) {
	files, _ := filepath.Glob("/sys/devices/platform/" + device + "/gpio/gpiochip*/base")
	if len(files) != 1 {
		return 0, fmt.Errorf("the number of %s's first line is not in one file: %q", device, files)
	}
	text, err := read(files[0])
	if err != nil {
		return 0, err
	}
	return strconv.Atoi(text)
}

// pull sets a line's pull to "pull-up" or "pull-down".
func (c *chip) pull(line, to string) error {
	file := filepath.Join(c.lines, "sim_gpio"+strings.TrimPrefix(line, "GPIO"), "pull")
	return os.WriteFile(file, []byte(to), 0)
}

// high returns the lines that are high.
func (c *chip) high() ([]int, error) {
	var high []int
	for n := range plan.Lines {
		v, err := read(fmt.Sprintf("%s/sim_gpio%d/value", c.lines, n))
		if err != nil {
			return nil, err
		}
		if v == "1" {
			high = append(high, n)
		}
	}
	return high, nil
}

// lineInfo is struct gpio_v2_line_info of <linux/gpio.h>, lineChanged its
// struct gpio_v2_line_info_changed.
type lineInfo struct {
	Name, Consumer  [32]byte
	Offset, NumAttr uint32
	Flags           uint64
	Attrs           [10][16]byte
	_               [4]uint32
}

type lineChanged struct {
	Info lineInfo
	At   uint64 // CLOCK_MONOTONIC, ns
	Type uint32
	_    [5]uint32
}

// watch has the kernel tell when lines are taken and released. The kernel keeps 32
// such changes at most, so they are read as they come.
func (c *chip) watch() error {
	for n := range plan.Lines {
		info := lineInfo{Offset: uint32(n)}
		if _, _, errno := unix.Syscall(unix.SYS_IOCTL, uintptr(c.dev), unix.GPIO_V2_GET_LINEINFO_WATCH_IOCTL,
			uintptr(unsafe.Pointer(&info))); errno != 0 {
			return fmt.Errorf("watch line %d: %w", n, errno)
		}
	}
	go func() {
		for {
			var change lineChanged
			buf := make([]byte, binary.Size(change))
			if _, err := unix.Read(c.dev, buf); errors.Is(err, unix.EINTR) {
				continue
			} else if err != nil {
				panic(err)
			}
			_, _ = binary.Decode(buf, binary.NativeEndian, &change) // cannot be too short
			if change.Type == unix.GPIO_V2_LINE_CHANGED_CONFIG {
				continue
			}
			c.mu.Lock()
			c.seen = append(c.seen, plan.Request{
				At:   time.Duration(change.At),
				Line: int(change.Info.Offset),
				Held: change.Type == unix.GPIO_V2_LINE_CHANGED_REQUESTED,
			})
			c.mu.Unlock()
		}
	}()
	return nil
}

// requests returns which lines were taken and released, once the program is over.
func (c *chip) requests() []plan.Request {
	time.Sleep(50 * time.Millisecond) // for the last one to be read
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.seen
}

func read(file string) (string, error) {
	text, err := os.ReadFile(file)
	return strings.TrimSpace(string(text)), err
}
