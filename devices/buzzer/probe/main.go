//go:build real && linux

// Command probe plays every pattern on GPIO17, one every two seconds.
package main

import (
	"fmt"
	"os"
	"time"

	"glidepace/devices/buzzer"
	"glidepace/devices/gpio"
)

func main() {
	if err := play(); err != nil {
		fmt.Println(err)
		os.Exit(1)
	}
}

func play() error {
	pin, err := gpio.OpenOutput("GPIO17")
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
