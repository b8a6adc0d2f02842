package main

import (
	"fmt"
	"os"
	"os/exec"
	"strings"
)

// toolchain is the compiler that makes the programs: another one makes other bytes.
const toolchain = "go1.26.8"

// env is the environment in which Go builds. All that changes the bytes is in it.
func (r *release) env(more ...string) []string {
	return append(append(os.Environ(),
		"GOTOOLCHAIN="+toolchain, "CGO_ENABLED=0", "GOWORK=off", "GOEXPERIMENT=",
		"GOAMD64=v1", "GOARM64=v8.0", "GOARM=6",
		// With the commit, without the folder and the table of symbols.
		"GOFLAGS=-buildvcs=true -trimpath -ldflags=-s",
		fmt.Sprint("SOURCE_DATE_EPOCH=", r.made.Unix()),
	), more...)
}

// run runs a program in the clone and returns what it prints.
func (r *release) run(name string, args ...string) (string, error) {
	return output(r.source, r.env(), name, args...)
}

// output runs a program in a folder and returns what it prints.
func output(dir string, env []string, name string, args ...string) (string, error) {
	cmd := exec.Command(name, args...)
	cmd.Dir, cmd.Env = dir, env
	var wrong strings.Builder
	cmd.Stderr = &wrong
	out, err := cmd.Output()
	if err != nil {
		return "", fmt.Errorf("%s %s: %w\n%s%s", name, strings.Join(args, " "), err, out, &wrong)
	}
	return string(out), nil
}
