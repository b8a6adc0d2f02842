//go:build !unix

package main

// onContinue does nothing: no program is stopped by its terminal here.
func onContinue(func()) (stop func()) { return func() {} }
