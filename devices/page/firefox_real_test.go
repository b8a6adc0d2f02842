//go:build real

package page

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"glidepace/sessions/diary"
	"glidepace/sounds/out/outtest"
)

// firefox is a window of a headless Firefox, driven over its own protocol.
type firefox struct {
	t    *testing.T
	conn net.Conn
	from *bufio.Reader
	n    int
}

func openFirefox(t *testing.T, file string) *firefox {
	t.Helper()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	port := listener.Addr().(*net.TCPAddr).Port
	listener.Close()
	profile := t.TempDir()
	settings := fmt.Sprintf("user_pref(\"marionette.port\", %d);\nuser_pref(\"media.autoplay.default\", 0);\nuser_pref(\"devtools.console.stdout.content\", true);\n", port)
	if err := os.WriteFile(filepath.Join(profile, "user.js"), []byte(settings), 0o600); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command("firefox-esr", "--headless", "--marionette", "--profile", profile)
	cmd.Env = append(os.Environ(), outtest.Start(t).Env...) // without one nothing can be heard, and the page waits
	cmd.Stdout = t.Output()                                 // the console
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { cmd.Process.Kill(); cmd.Wait() })
	f := &firefox{t: t}
	for end := time.Now().Add(time.Minute); f.conn == nil && time.Now().Before(end); time.Sleep(200 * time.Millisecond) {
		f.conn, _ = net.Dial("tcp", "127.0.0.1:"+strconv.Itoa(port))
	}
	if f.conn == nil {
		t.Fatal("Firefox does not answer")
	}
	t.Cleanup(func() { f.conn.Close() })
	f.from = bufio.NewReader(f.conn)
	f.read() // its greeting
	f.call("WebDriver:NewSession", map[string]any{})
	f.call("WebDriver:Navigate", map[string]any{"url": "file://" + file})
	return f
}

// read reads a message, which has its length before it.
func (f *firefox) read() (message []json.RawMessage) {
	f.t.Helper()
	f.conn.SetDeadline(time.Now().Add(2 * time.Minute))
	length, err := f.from.ReadString(':')
	if err != nil {
		f.t.Fatal(err)
	}
	n, _ := strconv.Atoi(strings.TrimSuffix(length, ":"))
	text := make([]byte, n)
	if _, err := io.ReadFull(f.from, text); err != nil {
		f.t.Fatal(err)
	}
	json.Unmarshal(text, &message) // the greeting is none
	return message
}

func (f *firefox) call(command string, params map[string]any) json.RawMessage {
	f.t.Helper()
	f.n++
	text, _ := json.Marshal([]any{0, f.n, command, params})
	fmt.Fprintf(f.conn, "%d:%s", len(text), text)
	answer := f.read() // [1, n, error, result]
	if len(answer) != 4 || string(answer[2]) != "null" {
		f.t.Fatalf("%s: %s", command, answer)
	}
	return answer[3]
}

// eval returns the value of an expression in the page.
func (f *firefox) eval(expression string) string {
	f.t.Helper()
	var result struct{ Value any }
	json.Unmarshal(f.call("WebDriver:ExecuteScript", map[string]any{"script": "return " + expression, "args": []any{}}), &result)
	return fmt.Sprint(result.Value)
}

// until waits for a text.
func (f *firefox) until(text string) {
	f.t.Helper()
	said := ""
	for end := time.Now().Add(time.Minute); time.Now().Before(end); time.Sleep(100 * time.Millisecond) {
		if said = f.eval("document.body.innerText"); strings.Contains(said, text) {
			return
		}
	}
	f.t.Fatalf("not said: %q in %q", text, said)
}

// tap clicks a button as a finger does.
func (f *firefox) tap(texts ...string) {
	f.t.Helper()
	for _, text := range texts {
		f.until(text)
		time.Sleep(700 * time.Millisecond)
		var found struct{ Value map[string]string }
		xpath := fmt.Sprintf("//button[starts-with(normalize-space(.), %q) and not(ancestor::*[@hidden])]", text)
		json.Unmarshal(f.call("WebDriver:FindElement", map[string]any{"using": "xpath", "value": xpath}), &found)
		for _, id := range found.Value {
			f.call("WebDriver:ElementClick", map[string]any{"id": id})
		}
	}
}

// In another engine the page paces a session with a stop, and its diary has the rows.
func TestPageInFirefox(t *testing.T) {
	t.Parallel()
	f := openFirefox(t, written(t, short))
	f.tap("Begin today", "Next", "Next", "Next", "Skip", "Skip", "Begin")
	f.until("EXHALE")
	began := time.Now()
	f.until("INHALE")
	f.until("EXHALE")
	if took := time.Since(began); took < 3*time.Second || took > 6*time.Second {
		t.Errorf("a breath of 4 s took %v", took)
	}
	f.tap("Stop")
	f.until("since you stopped")
	time.Sleep(5 * time.Second)
	f.tap("It was only a pause")
	f.until("Tingling or numbness now?")
	f.tap("Skip", "Skip", "Close")
	f.eval("(navigator.canShare = () => true, navigator.share = d => d.files[0].text().then(text => { document.title = text }), true)")
	f.tap("Give my diary")
	f.until("Choose how to send")
	var s diary.Session
	if err := json.Unmarshal([]byte(f.eval("document.title")), &s); err != nil {
		t.Fatal(err)
	}
	if s.Outcome != "completed" || s.Done.Repetitions != 2 || !slices.ContainsFunc(s.Events, func(e diary.Event) bool { return e.Kind == "stopped" }) {
		t.Errorf("given: %+v", s)
	}
}
