package out

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"testing"
)

func env(kv map[string]string) func(string) string {
	return func(k string) string { return kv[k] }
}

func TestServerAddresses(t *testing.T) {
	own := address{"unix", fmt.Sprintf("/run/user/%d/pulse/native", os.Getuid())}
	here := func(id string) bool { return id == "d0e1" }
	for _, test := range []struct {
		server, runtime string
		want            []address
	}{
		{"", "/run/user/7", []address{{"unix", "/run/user/7/pulse/native"}}},
		{"", "", []address{own}},
		{"unix:/tmp/p.sock", "/x", []address{{"unix", "/tmp/p.sock"}}},
		{"/tmp/p.sock", "", []address{{"unix", "/tmp/p.sock"}}},
		{"{d0e1}unix:/tmp/p.sock", "", []address{{"unix", "/tmp/p.sock"}}},
		{"{d0e1}/tmp/p.sock", "", []address{{"unix", "/tmp/p.sock"}}},
		{"{beef}unix:/a {d0e1}tcp:den:4713", "", []address{{"tcp", "den:4713"}}},
		{"unix:/a  tcp:den /b", "", []address{{"unix", "/a"}, {"tcp", "den:4713"}, {"unix", "/b"}}},
		{"tcp4:10.0.0.9:99", "", []address{{"tcp4", "10.0.0.9:99"}}},
		{"tcp6:[::1]:99", "", []address{{"tcp6", "[::1]:99"}}},
		{"tcp6:[::1]", "", []address{{"tcp6", "[::1]:4713"}}},
		{"tcp6:::1", "", []address{{"tcp6", "[::1]:4713"}}},
		{"den", "", []address{{"tcp", "den:4713"}}},
		// Nothing usable.
		{"{beef}unix:/a", "", nil},
		{"{d0e1}", "", nil},
		{"{d0e1", "", nil},
		{"{", "", nil},
		{"unix:", "", nil},
		{"tcp:", "", nil},
		{"  ", "", nil},
	} {
		got, err := serverAddresses(env(map[string]string{"PULSE_SERVER": test.server, "XDG_RUNTIME_DIR": test.runtime}), here)
		if !slices.Equal(got, test.want) || (err != nil) != (test.want == nil) {
			t.Errorf("PULSE_SERVER=%q XDG_RUNTIME_DIR=%q: %v, %v; want %v", test.server, test.runtime, got, err, test.want)
		}
	}
}

func TestThisMachine(t *testing.T) {
	host, err := os.Hostname()
	if err != nil {
		t.Fatal(err)
	}
	if !thisMachine(host) {
		t.Errorf("%q is not known as this machine", host)
	}
	if thisMachine("no-such-machine") {
		t.Error("another machine is taken for this one")
	}
}

func TestCookie(t *testing.T) {
	home := t.TempDir()
	write := func(name string, b byte, n int) string {
		path := filepath.Join(home, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, bytes.Repeat([]byte{b}, n), 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	vars := map[string]string{"HOME": home}
	expect := func(b byte) {
		t.Helper()
		if got := cookie(env(vars)); !bytes.Equal(got, bytes.Repeat([]byte{b}, 256)) {
			t.Errorf("cookie of %d bytes beginning with %d, want 256 of %d", len(got), got[0], b)
		}
	}
	// Each is preferred to those before.
	expect(0)
	write(".pulse-cookie", 1, 256)
	expect(1)
	write(".config/pulse/cookie", 2, 300)
	expect(2)
	vars["XDG_CONFIG_HOME"] = filepath.Join(home, "conf")
	expect(1)
	write("conf/pulse/cookie", 3, 256)
	expect(3)
	vars["PULSE_COOKIE"] = write("short", 4, 255)
	expect(3)
	vars["PULSE_COOKIE"] = write("mine", 5, 256)
	expect(5)
}
