package gpio

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"strconv"
	"strings"
	"sync"
	"syscall"

	"periph.io/x/conn/v3/driver/driverreg"
	"periph.io/x/host/v3/gpioioctl"
)

const chipFiles = "/dev/gpiochip*"

// loading keeps two pins from looking for the chips at once.
var loading sync.Mutex

// find returns the line of that name and its chip.
func find(name string) (*gpioioctl.GPIOChip, *gpioioctl.GPIOLine, error) {
	if runtime.GOOS != "linux" {
		return nil, nil, fmt.Errorf("pin %s: pins can be used on Linux only, on a board such as a Raspberry Pi, not on %s", name, runtime.GOOS)
	}
	if err := load(); err != nil {
		return nil, nil, fmt.Errorf("pin %s: %w", name, err)
	}
	var there []string
	for _, c := range gpioioctl.Chips {
		if l := c.ByName(name); l != nil && name != "" {
			return c, l, nil
		}
		var names []string
		for _, l := range c.Lines() {
			names = append(names, l.Name())
		}
		there = append(there, fmt.Sprintf("%s has %s", c.Label(), inRuns(names)))
	}
	return nil, nil, fmt.Errorf("pin %s: no line of that name; %s", name, strings.Join(there, "; "))
}

// load finds the chips. The library looks for them only once in a process, so it is
// not asked until one can be opened.
func load() error {
	loading.Lock()
	defer loading.Unlock()
	if len(gpioioctl.Chips) > 0 {
		return nil
	}
	if err := reachable(chipFiles, func(path string) error {
		f, err := os.Open(path)
		if err == nil {
			f.Close()
		}
		return err
	}); err != nil {
		return err
	}
	err := keepStdin(func() error {
		_, err := driverreg.Init()
		return err
	})
	if err == nil && len(gpioioctl.Chips) == 0 {
		err = errors.New("its lines cannot be read; is the kernel 5.10 or later?")
	}
	if err != nil {
		return fmt.Errorf("GPIO chip %s: %w", chipFiles, err)
	}
	return nil
}

// reachable says why none of the chips can be opened, nil if one can.
func reachable(files string, open func(path string) error) error {
	paths, err := filepath.Glob(files)
	if err != nil {
		return err
	}
	if len(paths) == 0 {
		return fmt.Errorf("no GPIO chip (%s): this works on a board such as a Raspberry Pi, with a kernel that has the GPIO character device", files)
	}
	var first error
	for _, p := range paths {
		err := open(p)
		if err == nil {
			return nil
		}
		if first == nil {
			first = err
		}
	}
	if errors.Is(first, fs.ErrPermission) {
		return fmt.Errorf("GPIO chip: %w; add the user to the group that owns the chip, on most boards with \"sudo usermod -aG gpio USER\", and log in again; a service needs SupplementaryGroups=gpio", first)
	}
	return fmt.Errorf("GPIO chip: %w", first)
}

// explain says which line failed, and how to help if that is known. holder is who had
// the line when the chip was read, "" for nobody.
func explain(where, holder string, err error) error {
	// The library keeps only the text of the kernel's error.
	if strings.Contains(err.Error(), syscall.EBUSY.Error()) {
		if holder == "" {
			holder = "another program, perhaps this one started twice,"
		} else {
			holder = strconv.Quote(holder)
		}
		return fmt.Errorf("pin %s is busy: %s holds it; end that, take its overlay out of the board's config.txt, or choose another pin (gpioinfo shows who holds which): %w", where, holder, err)
	}
	return fmt.Errorf("pin %s: %w", where, err)
}

var numbered = regexp.MustCompile(`^(.*?)([0-9]+)$`)

// inRuns lists names, with numbers that follow each other as a run: "ID_SDA, GPIO2 to
// GPIO27".
func inRuns(names []string) string {
	var runs []string
	for i := 0; i < len(names); {
		end := i
		for end+1 < len(names) && follows(names[end], names[end+1]) {
			end++
		}
		switch {
		case names[i] == "" || names[i] == "-" || names[i] == "_": // nobody named it
		case end > i+1:
			runs = append(runs, names[i]+" to "+names[end])
		default:
			runs = append(runs, names[i:end+1]...)
		}
		i = end + 1
	}
	if len(runs) == 0 {
		return "no lines with names"
	}
	return strings.Join(runs, ", ")
}

func follows(a, b string) bool {
	x, y := numbered.FindStringSubmatch(a), numbered.FindStringSubmatch(b)
	if x == nil || y == nil || x[1] != y[1] {
		return false
	}
	n, _ := strconv.Atoi(x[2])
	m, _ := strconv.Atoi(y[2])
	return m == n+1
}
