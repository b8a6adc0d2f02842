//go:build unix

package main

import (
	"os"
	"os/signal"
	"syscall"
)

// onContinue calls again whenever the program goes on after it was stopped, as
// by Ctrl-Z and fg, until stop.
func onContinue(again func()) (stop func()) {
	signals := make(chan os.Signal, 1)
	signal.Notify(signals, syscall.SIGCONT)
	go func() {
		for range signals {
			again()
		}
	}()
	return func() {
		signal.Stop(signals)
		close(signals)
	}
}
