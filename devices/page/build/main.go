// Command build builds the engine of the web page and keeps it, packed, beside the
// package, with the compiler's own file that starts it. It gives the same bytes in
// every folder and on every machine.
package main

import (
	"bytes"
	"compress/gzip"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
)

// toolchain is the compiler that the kept engine is built with: another gives other
// bytes.
const toolchain = "go1.26.8"

func main() {
	if err := build(); err != nil {
		fmt.Fprintln(os.Stderr, "build:", err)
		os.Exit(1)
	}
}

func build() error {
	folder, err := os.MkdirTemp("", "engine")
	if err != nil {
		return err
	}
	defer os.RemoveAll(folder)
	wasm := filepath.Join(folder, "engine.wasm")
	if _, err := run("build", "-trimpath", "-buildvcs=false", "-ldflags=-s -w -buildid=", "-o", wasm, "./engine"); err != nil {
		return err
	}
	content, err := os.ReadFile(wasm)
	if err != nil {
		return err
	}
	var packed bytes.Buffer
	z, err := gzip.NewWriterLevel(&packed, gzip.BestCompression)
	if err != nil {
		return err
	}
	if _, err := z.Write(content); err != nil {
		return err
	}
	if err := z.Close(); err != nil {
		return err
	}
	root, err := run("env", "GOROOT")
	if err != nil {
		return err
	}
	start, err := os.ReadFile(filepath.Join(string(bytes.TrimSpace(root)), "lib", "wasm", "wasm_exec.js"))
	if err != nil {
		return err
	}
	if err := os.WriteFile("wasm_exec.js", start, 0o644); err != nil {
		return err
	}
	return os.WriteFile("engine.wasm.gz", packed.Bytes(), 0o644)
}

// run runs the pinned compiler in this folder, for the browser.
func run(args ...string) ([]byte, error) {
	cmd := exec.Command("go", args...)
	cmd.Env = append(os.Environ(), "GOTOOLCHAIN="+toolchain, "GOOS=js", "GOARCH=wasm", "GOWASM=", "GOFLAGS=", "CGO_ENABLED=0")
	cmd.Stderr = os.Stderr
	return cmd.Output()
}
