//go:build real && linux

// Command probe drives the pins of the emulated board and prints what they did. Its
// first argument chooses the test.
package main

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"time"

	"golang.org/x/sys/unix"
	"periph.io/x/conn/v3/driver/driverreg"

	"glidepace/devices/buzzer"
	"glidepace/devices/gpio"
)

const (
	motor   = "GPIO17"
	another = "GPIO22"
	button  = "GPIO27" // pulled up, to ground
	numbers = "/data/numbers"
)

func main() {
	err := map[string]func() error{
		"pulses": pulses, "patterns": patterns, "write": write, "read": read, "watch": watch, "busy": busy, "held": held, "lock": lock, "locked": locked,
	}[os.Args[1]]()
	if err != nil {
		fmt.Println(err)
		os.Exit(1)
	}
}

// pulses makes ten pulses of 20 ms after a press. Before that it shows that a chip
// with two names makes the library close descriptor 0.
func pulses() error {
	if _, err := driverreg.Init(); err != nil {
		return err
	}
	if _, err := unix.FcntlInt(0, unix.F_GETFD, 0); err != nil {
		fmt.Println("descriptor 0 was closed")
		if fd, err := unix.Open("/dev/null", unix.O_RDWR, 0); fd != 0 {
			return fmt.Errorf("descriptor %d for 0: %w", fd, err)
		}
	}
	pin, err := gpio.OpenOutput(motor)
	if err != nil {
		return err
	}
	in, err := gpio.OpenInput(button, true)
	if err != nil {
		return err
	}
	ctx, cancel := context.WithCancel(context.Background())
	err = in.Watch(ctx, func(_ time.Time, high bool) {
		if high {
			fmt.Println("ready")
		} else {
			fmt.Println("pressed in", time.Now().UTC().Year())
			cancel()
		}
	})
	start := time.Now()
	for i := range 20 {
		if err != nil {
			return err
		}
		time.Sleep(time.Until(start.Add(time.Duration(i) * 20 * time.Millisecond)))
		err = pin.Set(i%2 == 0)
	}
	fmt.Println("year", time.Now().UTC().Year())
	return err
}

// patterns plays every pattern, one every two seconds.
func patterns() error {
	pin, err := gpio.OpenOutput(motor)
	if err != nil {
		return err
	}
	defer pin.Close()
	b := buzzer.New(buzzer.NewPinMotor(pin, buzzer.DefaultLead), buzzer.DefaultLead, func(err error) { fmt.Println(err) })
	for _, p := range buzzer.Patterns() {
		b.Play(p)
		time.Sleep(2 * time.Second)
	}
	return b.Close()
}

// write appends a number to a file every 100 ms, flushed where the second
// argument is "sync", and says so.
func write() error {
	f, err := os.OpenFile(numbers, os.O_CREATE|os.O_APPEND|os.O_WRONLY, 0o644)
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
	text, err := os.ReadFile(numbers)
	fmt.Printf("%s", text)
	return err
}

// watch watches the button for a second from its first level on.
func watch() error {
	stdin, err := os.Stdin.Stat()
	if err != nil {
		return err
	}
	in, err := gpio.OpenInput(button, true)
	if err != nil {
		return err
	}
	if again, err := os.Stdin.Stat(); err != nil || !os.SameFile(stdin, again) {
		return fmt.Errorf("standard input is another: %v", err)
	}
	fmt.Println("open")
	time.Sleep(500 * time.Millisecond) // edges come and go meanwhile
	fmt.Println("watching")
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	var first time.Time
	err = in.Watch(ctx, func(at time.Time, high bool) {
		if first.IsZero() {
			first = at
			time.AfterFunc(time.Second, cancel)
		}
		fmt.Println("high", high)
	})
	if err != nil {
		return err
	}
	if d := time.Since(first); d > 1150*time.Millisecond {
		return fmt.Errorf("the watch ended %v after its first level, want 1 s", d)
	}
	high, err := in.Read()
	fmt.Println("read", high, err)
	return in.Close()
}

// busy asks for lines that are not there, for one that another process holds,
// and again when that has ended.
func busy() error {
	open := func(name string) {
		_, err := gpio.OpenOutput(name)
		fmt.Println(err)
	}
	for _, name := range []string{"GPIO99", "bcm17", ""} {
		open(name)
	}
	child, err := holder("held")
	if err != nil {
		return err
	}
	for range 2 {
		open(another)
		_, err := gpio.OpenInput(another, true)
		fmt.Println(err)
	}
	if err := child.Process.Kill(); err != nil {
		return err
	}
	child.Wait()
	o, err := gpio.OpenOutput(another)
	if err != nil {
		return err
	}
	fmt.Println("free")
	for _, on := range []bool{true, false, true} {
		if err := o.Set(on); err != nil {
			return err
		}
		time.Sleep(20 * time.Millisecond)
	}
	return o.Close()
}

// held holds the line for another process to find it busy.
func held() error {
	o, err := gpio.OpenOutput(another)
	if err != nil {
		return err
	}
	fmt.Println("held")
	time.Sleep(time.Minute)
	return o.Close()
}

// holder starts another process of this command and waits until it holds something.
func holder(part string) (*exec.Cmd, error) {
	child := exec.Command("/proc/self/exe", part)
	out, err := child.StdoutPipe()
	if err != nil {
		return nil, err
	}
	if err := child.Start(); err != nil {
		return nil, err
	}
	_, err = out.Read(make([]byte, 4)) // "held"
	return child, err
}

// lock asks for the lock of the disk's top folder while another process holds it, and
// again when that was killed.
func lock() error {
	child, err := holder("locked")
	if err != nil {
		return err
	}
	fmt.Println(lockFolder())
	if err := child.Process.Kill(); err != nil {
		return err
	}
	child.Wait()
	fmt.Println(lockFolder())
	return nil
}

func locked() error {
	if err := lockFolder(); err != nil {
		return err
	}
	fmt.Println("held")
	time.Sleep(time.Minute)
	return nil
}

// lockFolder locks the disk's top folder until this process ends.
func lockFolder() error {
	fd, err := unix.Open("/data", unix.O_RDONLY, 0)
	if err != nil {
		return err
	}
	return unix.Flock(fd, unix.LOCK_EX|unix.LOCK_NB)
}
