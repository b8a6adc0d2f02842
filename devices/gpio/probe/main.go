//go:build real && linux

// Command probe tries package gpio on a kernel's simulated chip. Its argument
// is "watch", to watch GPIO27 for a second from a first edge on, or "busy", to
// meet a line that another process holds.
package main

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"time"

	"glidepace/devices/gpio"
)

const pin = "GPIO22"

func main() {
	do := map[string]func() error{"watch": watch, "busy": busy, "hold": hold}[os.Args[1]]
	if err := do(); err != nil {
		fmt.Println(err)
		os.Exit(1)
	}
}

func watch() error {
	stdin, err := os.Stdin.Stat()
	if err != nil {
		return err
	}
	in, err := gpio.OpenInput("GPIO27", true)
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

// hold takes the line for another process to find it busy.
func hold() error {
	o, err := gpio.OpenOutput(pin)
	if err != nil {
		return err
	}
	fmt.Println("held")
	time.Sleep(time.Minute)
	return o.Close()
}

func busy() error {
	for _, name := range []string{"GPIO99", "bcm17", ""} {
		_, err := gpio.OpenOutput(name)
		fmt.Println(err)
	}
	o, err := gpio.OpenOutput(pin)
	if err != nil {
		return err
	}
	if err := o.Close(); err != nil {
		return err
	}
	child := exec.Command("/proc/self/exe", "hold")
	out, err := child.StdoutPipe()
	if err != nil {
		return err
	}
	if err := child.Start(); err != nil {
		return err
	}
	if _, err := out.Read(make([]byte, 4)); err != nil { // "held"
		return err
	}
	for range 2 {
		_, err := gpio.OpenOutput(pin)
		fmt.Println(err)
		_, err = gpio.OpenInput(pin, true)
		fmt.Println(err)
	}
	if err := child.Process.Kill(); err != nil {
		return err
	}
	child.Wait()
	if o, err = gpio.OpenOutput(pin); err != nil {
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
