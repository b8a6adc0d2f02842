//go:build real

package outtest

import (
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
)

// Server is a sound server with one null sink, named test, in a directory of
// its own. It is killed when its test ends.
type Server struct {
	// Env are the variables (KEY=value) by which a program finds this server
	// and no other: HOME, XDG_RUNTIME_DIR and PULSE_SERVER. Append them to
	// os.Environ() for another process.
	Env []string

	socket string
	log    *os.File
	script string // starts the server; for sh
	cmd    *exec.Cmd
	fresh  bool // nothing has been recorded since it was started
}

// Start starts a PulseAudio server and returns when it can be played to.
func Start(t testing.TB) *Server {
	t.Helper()
	s := newServer(t, "pulse.sock")
	// The sink comes first, so that it is there when the socket is. Where that is
	// allowed, the server comes before all else on the machine, as with a sound card.
	s.script = `exec $(chrt -r 2 true && echo chrt -r 2) pulseaudio -n --exit-idle-time=-1 --daemonize=no \
		-L "module-null-sink sink_name=test rate=48000" \
		-L "module-native-protocol-unix socket=` + s.socket + ` auth-anonymous=1"`
	s.Restart(t)
	return s
}

// StartPipeWire starts a PipeWire server, which speaks the same protocol.
func StartPipeWire(t testing.TB) *Server {
	t.Helper()
	s := newServer(t, "run/pulse/native")
	s.script = `exec dbus-run-session -- sh -c '
		pipewire & until [ -S "$XDG_RUNTIME_DIR/pipewire-0" ]; do sleep 0.05; done
		wireplumber & pipewire-pulse &
		until pactl info; do sleep 0.05; done
		pactl load-module module-null-sink sink_name=test rate=48000
		until pactl set-default-sink test && pactl get-default-sink | grep -x test; do sleep 0.05; done
		sleep 1 # for wireplumber
		touch "$HOME/ready"; wait'`
	s.Restart(t)
	s.fresh = false // it works in short pieces from the start
	await(t, "a PipeWire sink", func() error {
		_, err := os.Stat(filepath.Join(filepath.Dir(s.log.Name()), "home", "ready"))
		return err
	})
	return s
}

func newServer(t testing.TB, socket string) *Server {
	t.Helper()
	// Not t.TempDir: a socket's path may have 107 bytes, a test's name has more.
	dir, err := os.MkdirTemp("", "sound")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(dir) })
	home, run := filepath.Join(dir, "home"), filepath.Join(dir, "run")
	for _, d := range []string{home, run} {
		if err := os.Mkdir(d, 0o700); err != nil {
			t.Fatal(err)
		}
	}
	// A browser asks for the server's default rate, and resamples everything to it.
	conf := filepath.Join(home, ".config", "pulse", "daemon.conf")
	err = errors.Join(os.MkdirAll(filepath.Dir(conf), 0o700), os.WriteFile(conf, []byte("default-sample-rate = 48000\n"), 0o600))
	if err != nil {
		t.Fatal(err)
	}
	s := &Server{socket: filepath.Join(dir, socket)}
	s.Env = []string{"HOME=" + home, "XDG_RUNTIME_DIR=" + run, "PULSE_SERVER=unix:" + s.socket}
	if s.log, err = os.Create(filepath.Join(dir, "log")); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		s.Kill()
		s.log.Close()
		if t.Failed() {
			b, _ := os.ReadFile(s.log.Name())
			t.Logf("the sound server said:\n%s", b)
		}
	})
	return s
}

// Setenv makes the test's own process find this server.
func (s *Server) Setenv(t testing.TB) {
	t.Helper()
	for _, kv := range s.Env {
		k, v, _ := strings.Cut(kv, "=")
		t.Setenv(k, v)
	}
}

// ALSA makes this server the sound card of the ALSA programs that find it.
func (s *Server) ALSA(t testing.TB) {
	t.Helper()
	file := filepath.Join(filepath.Dir(s.log.Name()), "home", ".asoundrc")
	if err := os.WriteFile(file, []byte("pcm.!default { type pulse }\n"), 0o600); err != nil {
		t.Fatal(err)
	}
}

// Command returns a command that finds this server.
func (s *Server) Command(name string, args ...string) *exec.Cmd {
	c := exec.Command(name, args...)
	c.Env = append(os.Environ(), s.Env...)
	return c
}

// Restart starts the server again after Kill, at the same place.
func (s *Server) Restart(t testing.TB) {
	t.Helper()
	os.Remove(s.socket) // a killed server leaves it
	s.cmd = s.Command("sh", "-c", s.script)
	s.cmd.Stdout, s.cmd.Stderr = s.log, s.log
	s.cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
	if err := s.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	await(t, "a sound server", func() error {
		c, err := net.Dial("unix", s.socket)
		if err == nil {
			c.Close()
		}
		return err
	})
	s.fresh = true
}

// wakeSink has PulseAudio's sink work in short pieces for its first recorder. It
// would finish a piece of two seconds first.
func (s *Server) wakeSink(t testing.TB) {
	t.Helper()
	await(t, "a recorder", func() error {
		if s.Control(t, "list", "short", "source-outputs") == "" {
			return io.ErrNoProgress
		}
		return nil
	})
	s.Control(t, "suspend-sink", "test", "1")
	s.Control(t, "suspend-sink", "test", "0")
}

// Kill ends the server at once.
func (s *Server) Kill() {
	s.Signal(syscall.SIGKILL)
	s.cmd.Wait()
}

// Signal sends a signal to the server; SIGSTOP makes it hang, SIGCONT go on.
func (s *Server) Signal(sig syscall.Signal) {
	if s.cmd.ProcessState == nil {
		syscall.Kill(-s.cmd.Process.Pid, sig)
	}
}

// Control runs pactl on the server and returns what it says.
func (s *Server) Control(t testing.TB, args ...string) string {
	t.Helper()
	out, err := s.Command("pactl", args...).CombinedOutput()
	if err != nil {
		t.Fatalf("pactl %s: %v\n%s", strings.Join(args, " "), err, out)
	}
	return strings.TrimSpace(string(out))
}

// await waits until try succeeds, 20 seconds at most.
func await(t testing.TB, what string, try func() error) {
	t.Helper()
	var err error
	for end := time.Now().Add(20 * time.Second); time.Now().Before(end); time.Sleep(5 * time.Millisecond) {
		if err = try(); err == nil {
			return
		}
	}
	t.Fatal(fmt.Errorf("no sign of %s: %w", what, err))
}
