package out

import (
	"fmt"
	"net"
	"os"
	"path/filepath"
	"strconv"
	"strings"
)

// An address is where a sound server listens.
type address struct {
	network string // as net.Dial takes it
	addr    string
}

func (a address) String() string { return a.network + ":" + a.addr }

// pulsePort is the port of PulseAudio's native protocol over TCP.
const pulsePort = "4713"

// serverAddresses returns where to look for a sound server, in order: what
// PULSE_SERVER names, or else the user's own socket. here tells whether a
// machine id or host name is this machine's.
func serverAddresses(getenv func(string) string, here func(id string) bool) ([]address, error) {
	servers := getenv("PULSE_SERVER")
	if servers == "" {
		dir := getenv("XDG_RUNTIME_DIR")
		if dir == "" {
			dir = "/run/user/" + strconv.Itoa(os.Getuid())
		}
		return []address{{"unix", dir + "/pulse/native"}}, nil
	}
	var as []address
	for _, s := range strings.Fields(servers) {
		if a, ok := parseServer(s, here); ok {
			as = append(as, a)
		}
	}
	if len(as) == 0 {
		return nil, fmt.Errorf("PULSE_SERVER=%q: it names no server that this machine can use "+
			"(a form that works is unix:/run/user/%d/pulse/native)", servers, os.Getuid())
	}
	return as, nil
}

// parseServer reads one server string: a path, unix:PATH, tcp:HOST[:PORT] (or
// tcp4, tcp6), or HOST[:PORT]. A {machine} before it says that it is meant for
// that machine alone. It reports false for a string that is meant for another
// machine or is no address.
func parseServer(s string, here func(id string) bool) (address, bool) {
	if rest, ok := strings.CutPrefix(s, "{"); ok {
		id, server, ok := strings.Cut(rest, "}")
		if !ok || !here(id) {
			return address{}, false
		}
		s = server
	}
	if strings.HasPrefix(s, "/") {
		s = "unix:" + s
	}
	if path, ok := strings.CutPrefix(s, "unix:"); ok {
		return address{"unix", path}, path != ""
	}
	network, host := "tcp", s
	for _, n := range []string{"tcp", "tcp4", "tcp6"} {
		if h, ok := strings.CutPrefix(s, n+":"); ok {
			network, host = n, h
		}
	}
	if host == "" {
		return address{}, false
	}
	if _, _, err := net.SplitHostPort(host); err != nil {
		host = net.JoinHostPort(strings.Trim(host, "[]"), pulsePort)
	}
	return address{network, host}, true
}

// thisMachine tells whether id is this machine's id or host name.
func thisMachine(id string) bool {
	for _, file := range []string{"/etc/machine-id", "/var/lib/dbus/machine-id"} {
		if b, err := os.ReadFile(file); err == nil && strings.TrimSpace(string(b)) == id {
			return true
		}
	}
	host, err := os.Hostname()
	return err == nil && host == id
}

// cookieSize is the length of the secret by which a server knows its user.
const cookieSize = 256

// cookie returns the secret for the server. It is in the file that PULSE_COOKIE
// names, in the user's configuration, or where older versions kept it. Without
// one it returns zeros, because many servers trust whoever reaches the socket.
func cookie(getenv func(string) string) []byte {
	config := getenv("XDG_CONFIG_HOME")
	if config == "" {
		config = filepath.Join(getenv("HOME"), ".config")
	}
	for _, file := range []string{
		getenv("PULSE_COOKIE"),
		filepath.Join(config, "pulse", "cookie"),
		filepath.Join(getenv("HOME"), ".pulse-cookie"),
	} {
		if b, err := os.ReadFile(file); err == nil && len(b) >= cookieSize {
			return b[:cookieSize]
		}
	}
	return make([]byte, cookieSize)
}
