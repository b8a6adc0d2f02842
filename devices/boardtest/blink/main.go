//go:build real && linux

// Command blink tries out a machine of boardtest. Its argument says how:
// "pulses", "hold" and "panic" drive GPIO17 once the button on GPIO27 (pulled
// up, to ground) is pressed; "write" and "read" use a file on the disk.
package main

import (
	"errors"
	"fmt"
	"os"
	"time"

	"golang.org/x/sys/unix"
	"periph.io/x/conn/v3/driver/driverreg"
	"periph.io/x/conn/v3/gpio"
	"periph.io/x/conn/v3/gpio/gpioreg"
	_ "periph.io/x/host/v3/gpioioctl"
)

const file = "/data/numbers"

func main() {
	do := map[string]func() error{
		"pulses": pulses, "hold": hold, "panic": fall, "write": write, "read": read,
	}[os.Args[1]]
	if err := do(); err != nil {
		fmt.Println(err)
		os.Exit(1)
	}
}

// pressed waits for the button and returns the pin to drive.
func pressed() (gpio.PinIO, error) {
	if _, err := driverreg.Init(); err != nil {
		return nil, err
	}
	// A chip with two names makes Init close descriptor 0, which the library
	// takes for "not open" if a line gets it.
	if _, err := unix.FcntlInt(0, unix.F_GETFD, 0); err != nil {
		fmt.Println("descriptor 0 was closed")
		if fd, err := unix.Open("/dev/null", unix.O_RDWR, 0); fd != 0 {
			return nil, fmt.Errorf("descriptor %d for 0: %w", fd, err)
		}
	}
	motor, button := gpioreg.ByName("GPIO17"), gpioreg.ByName("GPIO27")
	if motor == nil || button == nil {
		return nil, errors.New("no GPIO17 or no GPIO27")
	}
	if err := motor.Out(gpio.Low); err != nil {
		return nil, err
	}
	if err := button.In(gpio.PullUp, gpio.BothEdges); err != nil {
		return nil, err
	}
	fmt.Println("ready")
	if !button.WaitForEdge(0) || button.Read() != gpio.Low {
		return nil, errors.New("an edge that is no press")
	}
	fmt.Println("pressed in", time.Now().UTC().Year())
	return motor, nil
}

func pulses() error {
	motor, err := pressed()
	start := time.Now()
	for i := range 20 {
		if err != nil {
			return err
		}
		time.Sleep(time.Until(start.Add(time.Duration(i) * 20 * time.Millisecond)))
		err = motor.Out(i%2 == 0)
	}
	time.Sleep(20 * time.Millisecond)
	fmt.Println("year", time.Now().UTC().Year())
	return err
}

func hold() error {
	motor, err := pressed()
	if err != nil {
		return err
	}
	if err := motor.Out(gpio.High); err != nil {
		return err
	}
	fmt.Println("on")
	time.Sleep(time.Minute)
	return errors.New("nobody stopped it")
}

func fall() error {
	motor, err := pressed()
	if err != nil {
		return err
	}
	if err := motor.Out(gpio.High); err != nil {
		return err
	}
	panic("on purpose")
}

// write appends a number every 100 ms, synchronised when the second argument is
// "sync", and says so.
func write() error {
	f, err := os.OpenFile(file, os.O_CREATE|os.O_APPEND|os.O_WRONLY, 0o644)
	if err != nil {
		return err
	}
	for i := range 1000 {
		if _, err := fmt.Fprintln(f, i); err != nil {
			return err
		}
		if os.Args[2] == "sync" {
			if err := f.Sync(); err != nil {
				return err
			}
		}
		fmt.Println("recorded", i)
		time.Sleep(100 * time.Millisecond)
	}
	return nil
}

func read() error {
	text, err := os.ReadFile(file)
	fmt.Printf("%s", text)
	return err
}
