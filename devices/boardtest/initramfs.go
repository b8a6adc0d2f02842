//go:build real && linux

package boardtest

import (
	"bytes"
	"debug/elf"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"sync"
)

// archive is a cpio archive in the "newc" form, which the kernel unpacks into
// its first file system (Documentation/driver-api/early-userspace/buffer-format.rst).
type archive struct {
	buf  bytes.Buffer
	dirs map[string]bool
}

func (a *archive) add(name string, mode uint32, device [2]int, data []byte) {
	if dir := path.Dir(name); dir != "." && !a.dirs[dir] {
		a.dir(dir)
	}
	// Fields: ino mode uid gid nlink mtime filesize devmajor devminor
	// rdevmajor rdevminor namesize check.
	fmt.Fprintf(&a.buf, "070701%08X%08X%08X%08X%08X%08X%08X%08X%08X%08X%08X%08X%08X%s\x00",
		0, mode, 0, 0, 1, 0, len(data), 0, 0, device[0], device[1], len(name)+1, 0, name)
	a.pad()
	a.buf.Write(data)
	a.pad()
}

func (a *archive) pad() {
	for a.buf.Len()%4 != 0 {
		a.buf.WriteByte(0)
	}
}

func (a *archive) dir(name string) {
	if a.dirs == nil {
		a.dirs = map[string]bool{}
	}
	a.add(name, 0o040755, [2]int{}, nil)
	a.dirs[name] = true
}

// file adds a file by its path in the machine.
func (a *archive) file(name string, mode uint32, data []byte) {
	a.add(strings.TrimPrefix(path.Clean("/"+name), "/"), 0o100000|mode, [2]int{}, data)
}

func (a *archive) bytes() []byte {
	a.add("dev/console", 0o020600, [2]int{5, 1}, nil) // what the first process prints to
	a.add("TRAILER!!!", 0, [2]int{}, nil)
	return a.buf.Bytes()
}

// built holds what go build made, by tags and package.
var (
	built    = map[string][]byte{}
	building sync.Mutex
)

// build returns the static program of a package.
func build(tags, pkg string) ([]byte, error) {
	building.Lock()
	defer building.Unlock()
	key := tags + " " + pkg
	if b := built[key]; b != nil {
		return b, nil
	}
	dir, err := os.MkdirTemp("", "boardtest")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	out := filepath.Join(dir, "program")
	cmd := exec.Command("go", "build", "-trimpath", "-ldflags=-s -w", "-tags", tags, "-o", out, pkg)
	cmd.Env = append(os.Environ(), "CGO_ENABLED=0", "GOOS=linux", "GOARCH=arm64")
	if text, err := cmd.CombinedOutput(); err != nil {
		return nil, fmt.Errorf("%s: %w\n%s", strings.Join(cmd.Args, " "), err, text)
	}
	b, err := os.ReadFile(out)
	built[key] = b
	return b, err
}

// module is a kernel module ready to be loaded.
type module struct {
	name string
	data []byte
}

// modules returns kernel modules from the folder of a kernel, each after
// those it depends on.
func modules(kernel string, names ...string) ([]module, error) {
	files := map[string]string{}
	err := filepath.WalkDir(filepath.Join(kernel, "kernel"), func(p string, d fs.DirEntry, err error) error {
		if name, ok := strings.CutSuffix(filepath.Base(p), ".ko.xz"); ok {
			files[underscored(name)] = p
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	var list []module
	var add func(name string) error
	add = func(name string) error {
		name = underscored(name)
		if slices.ContainsFunc(list, func(m module) bool { return m.name == name }) {
			return nil
		}
		file, ok := files[name]
		if !ok {
			return fmt.Errorf("no module %s in %s", name, kernel)
		}
		data, err := exec.Command("xz", "-dc", file).Output()
		if err != nil {
			return fmt.Errorf("xz -dc %s: %w (xz-utils installed?)", file, err)
		}
		needs, err := dependencies(data)
		if err != nil {
			return fmt.Errorf("%s: %w", file, err)
		}
		for _, n := range needs {
			if err := add(n); err != nil {
				return err
			}
		}
		list = append(list, module{name, data})
		return nil
	}
	for _, n := range names {
		if err := add(n); err != nil {
			return nil, err
		}
	}
	return list, nil
}

// underscored is the kernel's form of a module's name; files may have "-".
func underscored(name string) string { return strings.ReplaceAll(name, "-", "_") }

// dependencies reads which modules a module needs.
func dependencies(data []byte) ([]string, error) {
	f, err := elf.NewFile(bytes.NewReader(data))
	if err != nil {
		return nil, err
	}
	section := f.Section(".modinfo")
	if section == nil {
		return nil, fmt.Errorf("no .modinfo")
	}
	info, err := section.Data()
	if err != nil {
		return nil, err
	}
	for field := range strings.SplitSeq(string(info), "\x00") {
		if list, ok := strings.CutPrefix(field, "depends="); ok && list != "" {
			return strings.Split(list, ","), nil
		}
	}
	return nil, nil
}
