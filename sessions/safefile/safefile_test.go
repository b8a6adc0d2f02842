package safefile

import (
	"errors"
	"io/fs"
	"net"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

func put(t *testing.T, name, content string) {
	t.Helper()
	must(t, os.WriteFile(name, []byte(content), 0o600))
}

// want fails unless the file holds the text.
func want(t *testing.T, name, content string) {
	t.Helper()
	if b, err := os.ReadFile(name); err != nil || string(b) != content {
		t.Errorf("%s holds %q (%v), want %q", name, b, err, content)
	}
}

// mode returns the permissions of a file.
func mode(t *testing.T, name string) fs.FileMode {
	t.Helper()
	info, err := os.Stat(name)
	if err != nil {
		t.Fatal(err)
	}
	return info.Mode()
}

// wantFolder fails unless the folder holds just these names.
func wantFolder(t *testing.T, dir string, names ...string) {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var found []string
	for _, e := range entries {
		found = append(found, e.Name())
	}
	if !slices.Equal(found, names) {
		t.Errorf("the folder holds %q, want %q", found, names)
	}
}

// write creates a file and commits it; to discard it after that does nothing.
func write(name, content string, force bool) error {
	p, err := Create(name, force)
	if err != nil {
		return err
	}
	defer p.Discard()
	if _, err := p.Write([]byte(content)); err != nil {
		return err
	}
	return Commit(p)
}

func TestPendingIsUnderATemporaryName(t *testing.T) {
	dir := t.TempDir()
	name := filepath.Join(dir, "a.vtt")
	p, err := Create(name, false)
	if err != nil {
		t.Fatal(err)
	}
	if entries, _ := os.ReadDir(dir); len(entries) != 1 || !strings.HasPrefix(entries[0].Name(), ".") {
		t.Errorf("the folder holds %v", entries)
	}
	p.Discard()
	p.Discard()
	wantFolder(t, dir)

	must(t, write(name, "new", false))
	wantFolder(t, dir, "a.vtt")
	want(t, name, "new")
}

// A new file has the permissions that the system gives to any new file.
func TestPermissionsAreUsual(t *testing.T) {
	dir := t.TempDir()
	name, usual := filepath.Join(dir, "a"), filepath.Join(dir, "b")
	if f, err := os.Create(usual); err != nil || f.Close() != nil {
		t.Fatal(err)
	}
	must(t, write(name, "", false))
	if got, want := mode(t, name), mode(t, usual); got != want {
		t.Errorf("mode %v, want %v", got, want)
	}
}

func TestExistingIsRefused(t *testing.T) {
	dir := t.TempDir()
	name := filepath.Join(dir, "a.wav")
	put(t, name, "old")
	for _, err := range []error{Check(name, false), write(name, "new", false)} {
		if r, ok := errors.AsType[Refusal](err); !ok || !r.Exists || err.Error() != name+" is there already" {
			t.Errorf("%v", err)
		}
	}
	want(t, name, "old")
	wantFolder(t, dir, "a.wav")
}

func TestForceReplaces(t *testing.T) {
	dir := t.TempDir()
	name := filepath.Join(dir, "a.wav")
	must(t, write(name, "first", true))
	must(t, os.Chmod(name, 0o640))
	before := mode(t, name)
	if err := Check(name, true); err != nil {
		t.Error(err)
	}
	must(t, write(name, "second", true))
	if got := mode(t, name); got != before {
		t.Errorf("mode %v, want that of the file before, %v", got, before)
	}
	want(t, name, "second")
	wantFolder(t, dir, "a.wav")
}

func TestForceFollowsALink(t *testing.T) {
	dir, there := t.TempDir(), t.TempDir()
	name, real := filepath.Join(dir, "a.wav"), filepath.Join(there, "b.wav")
	put(t, real, "old")
	must(t, os.Symlink(real, name))
	must(t, write(name, "new", true))
	want(t, real, "new")
	if to, err := os.Readlink(name); err != nil || to != real {
		t.Errorf("the link is %q, %v", to, err)
	}
	wantFolder(t, dir, "a.wav")
	wantFolder(t, there, "b.wav")
}

// What is not a file is not replaced, with force or without.
func TestOnlyFilesAreReplaced(t *testing.T) {
	dir := t.TempDir()
	folder, socket := filepath.Join(dir, "a.wav"), filepath.Join(dir, "b.wav")
	must(t, os.Mkdir(folder, 0o700))
	listener, err := net.Listen("unix", socket)
	must(t, err)
	defer listener.Close()
	names := []string{folder, socket}
	for _, name := range names {
		for _, force := range []bool{false, true} {
			if _, ok := errors.AsType[Refusal](write(name, "new", force)); !ok {
				t.Errorf("%s, force %v: not refused", name, force)
			}
		}
	}
	if entries, _ := os.ReadDir(dir); len(entries) != len(names) {
		t.Errorf("the folder holds %v", entries)
	}
}

func TestNoFolder(t *testing.T) {
	name := filepath.Join(t.TempDir(), "none", "a.wav")
	for _, err := range []error{Check(name, false), write(name, "", true)} {
		if _, ok := errors.AsType[Refusal](err); !ok || !strings.Contains(err.Error(), "no folder") {
			t.Errorf("%v", err)
		}
	}
}

// Files are committed together: if the last one cannot have its name, the
// first has not been given its own.
func TestCommitIsForAll(t *testing.T) {
	dir := t.TempDir()
	var all []*File
	for _, name := range []string{"a", "b"} {
		p, err := Create(filepath.Join(dir, name), false)
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, p)
	}
	put(t, filepath.Join(dir, "b"), "theirs")
	if err := Commit(all...); err == nil {
		t.Error("no error")
	}
	wantFolder(t, dir, "b")
	want(t, filepath.Join(dir, "b"), "theirs")
}

// What a killed program left goes with the next file that is written there. What is
// being written stays, and so does whatever is not ours.
func TestWhatWasLeftIsTidied(t *testing.T) {
	const left = ".glidepace-0badcafe.part"
	dir := t.TempDir()
	put(t, filepath.Join(dir, left), "half")
	must(t, write(filepath.Join(dir, "a"), "new", false))
	wantFolder(t, dir, "a")

	folder := ".glidepace-00000000.part"
	must(t, os.Mkdir(filepath.Join(dir, folder), 0o700))
	stay := []string{".a.1234567", ".glidepace-0badcafe", ".glidepace-0badcafe.part.bak", ".glidepace-12.part", "a", "glidepace-0badcafe.part"}
	for _, name := range append(stay, left) {
		put(t, filepath.Join(dir, name), "theirs")
	}
	p, err := Create(filepath.Join(dir, "b"), false)
	must(t, err)
	tidy(dir)
	must(t, Commit(p))
	stay = append(stay, folder, "b")
	slices.Sort(stay)
	wantFolder(t, dir, stay...)
}

// The same holds for folders among the system's temporary files.
func TestTempFolder(t *testing.T) {
	const left = ".glidepace-0badcafe.part"
	dir := t.TempDir()
	t.Setenv("TMPDIR", dir)
	t.Setenv("TMP", dir) // on Windows
	put(t, filepath.Join(dir, left), "")
	must(t, os.Mkdir(filepath.Join(dir, left+folderEnd), 0o700))
	put(t, filepath.Join(dir, left+folderEnd, "a"), "half")
	one, removeOne, err := TempFolder()
	must(t, err)
	put(t, filepath.Join(one, "a"), "mine")
	tidy(dir)
	want(t, filepath.Join(one, "a"), "mine")
	wantFolder(t, dir, strings.TrimSuffix(filepath.Base(one), folderEnd), filepath.Base(one))
	must(t, removeOne())
	wantFolder(t, dir)
}

// What cannot be made again is never replaced, whatever name leads to it.
func TestNeverReplaced(t *testing.T) {
	dir := t.TempDir()
	for name, c := range map[string]struct{ content, says string }{
		"clinic.db":    {databaseHeader + "\x10\x00", " is a diary, which is never replaced"},
		"review.html":  {databaseHeader, " is a diary, which is never replaced"},
		"first.yaml":   {"glidepace: 1", " is a session file or a box file, which is never replaced"},
		"box-3.YML":    {"", " is a session file or a box file, which is never replaced"},
		"short.html":   {databaseHeader[:15], ""},
		"handout.html": {"<!doctype html>", ""},
	} {
		name, link := filepath.Join(dir, name), filepath.Join(dir, "link to "+name+".svg")
		put(t, name, c.content)
		must(t, os.Symlink(name, link))
		for _, name := range []string{name, link} {
			err := write(name, "new", true)
			refused, _ := errors.AsType[Refusal](err)
			if c.says == "" && err != nil || c.says != "" && (refused.Exists || !strings.HasPrefix(refused.Error(), name+c.says)) {
				t.Errorf("%s: %v, want %q", name, err, c.says)
			}
		}
		if c.says != "" {
			want(t, name, c.content)
		} else {
			want(t, name, "new")
		}
	}
}
