//go:build real && linux

package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"golang.org/x/sys/unix"

	"glidepace/devices/boardtest/plan"
)

// setUp mounts file systems, loads modules and sets the clock.
func setUp(p plan.Plan) error {
	for _, m := range []struct{ on, kind string }{
		{"/dev", "devtmpfs"}, {"/proc", "proc"}, {"/sys", "sysfs"}, {"/tmp", "tmpfs"}, {"/run", "tmpfs"}, {"/sys/kernel/tracing", "tracefs"},
	} {
		if err := mount(m.kind, m.on, m.kind); err != nil {
			return err
		}
	}
	for _, name := range p.Modules {
		if err := load(name); err != nil {
			return fmt.Errorf("module %s: %w", name, err)
		}
	}
	if err := mount("configfs", "/sys/kernel/config", "configfs"); err != nil {
		return err
	}
	if p.DiskType != "" {
		// The disk is found some time after its driver is loaded.
		if err := await("/dev/vda"); err != nil {
			return err
		}
		if err := mount("/dev/vda", "/data", p.DiskType); err != nil {
			return err
		}
	}
	if !p.Clock.IsZero() {
		return errors.Join(setClock(p.Clock), setBoardClock(p.Clock))
	}
	return nil
}

// setBoardClock sets the clock that a battery keeps, where there is one.
func setBoardClock(to time.Time) error {
	f, err := os.OpenFile("/dev/rtc0", os.O_RDWR, 0)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	defer f.Close()
	to = to.UTC()
	return unix.IoctlSetRTCTime(int(f.Fd()), &unix.RTCTime{Sec: int32(to.Second()), Min: int32(to.Minute()), Hour: int32(to.Hour()),
		Mday: int32(to.Day()), Mon: int32(to.Month()) - 1, Year: int32(to.Year()) - 1900})
}

func mount(what, on, kind string) error {
	if err := os.MkdirAll(on, 0o755); err != nil {
		return err
	}
	if err := unix.Mount(what, on, kind, 0, ""); err != nil {
		return fmt.Errorf("mount %s: %w", on, err)
	}
	return nil
}

// startSystem makes the disk the root of the file system and its first process this
// one. It returns only if that failed.
func startSystem() error {
	for _, dir := range []string{"/dev", "/proc", "/sys", "/run"} {
		if err := unix.Mount(dir, "/data"+dir, "", unix.MS_MOVE, ""); err != nil {
			return fmt.Errorf("move %s: %w", dir, err)
		}
	}
	const program = "/sbin/init"
	return errors.Join(
		unix.Chdir("/data"),
		unix.Mount(".", "/", "", unix.MS_MOVE, ""),
		unix.Chroot("."),
		unix.Exec(program, []string{program}, []string{"TERM=dumb", "PATH=/usr/sbin:/usr/bin"}))
}

func load(name string) error {
	f, err := os.Open(filepath.Join("/modules", name))
	if err != nil {
		return err
	}
	defer f.Close()
	if err := unix.FinitModule(int(f.Fd()), "", 0); err != nil && err != unix.EEXIST {
		return err
	}
	return nil
}

// await waits for a file that the kernel is about to make.
func await(path string) error {
	for range 500 {
		if _, err := os.Stat(path); err == nil {
			return nil
		}
		time.Sleep(10 * time.Millisecond)
	}
	return fmt.Errorf("no %s after 5 s", path)
}
