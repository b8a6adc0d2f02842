//go:build real

package page

import (
	"fmt"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"glidepace/pacer"
	"glidepace/sessions/browsertest"
	"glidepace/sounds"
	"glidepace/sounds/out/outtest"
)

// A session of a little more than a minute.
var minute = strings.Replace(short, "reps: 2", "reps: 14", 1)

// loud is for a browser that plays to a sound server.
func loud(server *outtest.Server) []chromedp.ExecAllocatorOption {
	return []chromedp.ExecAllocatorOption{chromedp.Env(server.Env...), chromedp.Flag("mute-audio", false), ahead("nice", "-n", "-15")}
}

// ahead has a command, such as nice, start the browser before all else on the machine,
// where that is allowed: a phone does not share its processor with other tests.
func ahead(command ...string) chromedp.ExecAllocatorOption {
	return chromedp.ModifyCmdFunc(func(cmd *exec.Cmd) {
		if first := exec.Command(command[0], append(command[1:], "true")...); first.Run() == nil {
			cmd.Args = slices.Concat(command, []string{cmd.Path}, cmd.Args[1:])
			cmd.Path = first.Path
		}
	})
}

// attempts is how often a measurement is made anew where it fails: a machine that does
// other work at the same time lets the sound of any program drop out.
const attempts = 4

// What comes out of the browser is what the program computes, sample by sample, for
// more than a minute: so every tick is where the timeline has it, and nothing drifts.
// The screen follows within 50 ms.
func TestPageSoundsAsRendered(t *testing.T) {
	server := outtest.Start(t)
	tl, err := pacer.New(parse(t, minute))
	if err != nil {
		t.Fatal(err)
	}
	var found []string
	for range attempts {
		if found = listen(t, server, tl); len(found) == 0 {
			return
		}
		t.Logf("again: %q", found)
	}
	t.Errorf("in each of %d attempts; the last: %q", attempts, found)
}

// listen runs a session once, and returns what is not as it should be.
func listen(t *testing.T, server *outtest.Server, tl *pacer.Timeline) (found []string) {
	x := open(t, minute, loud(server)...)
	x.begin()
	browsertest.Eval[bool](x.Browser, `(globalThis.shown = [], new MutationObserver(() =>
		shown.push([document.getElementById("word").textContent, performance.timeOrigin + performance.now()])
	).observe(document.getElementById("word"), {childList: true, characterData: true, subtree: true}), true)`)
	heard := server.Record(t)
	x.untilFor("Tingling or numbness now?", 2*time.Minute) // once it has rung out
	heard.Stop()
	if p := x.Problems(); len(p) > 0 {
		t.Errorf("the browser complains: %q", p)
	}

	s := tl.Session()
	stream := sounds.New(tl, sounds.Settings{Parts: s.Sounds.Parts, Volume: s.Sounds.Volume})
	want := make([]int16, stream.Len())
	stream.Fill(want, 0)
	got := heard.Samples()
	first := slices.IndexFunc(want, func(x int16) bool { return x > 200 || x < -200 })
	begin := find(got, want[first:first+1000])
	if begin < 0 {
		return []string{"the first sound of the session was not heard as it is computed"}
	}
	got = got[begin:]
	if n := len(want) - first; len(got) < n {
		return []string{fmt.Sprintf("only %d of %d samples were recorded", len(got), n)}
	}
	for i, w := range want[first:] {
		if got[i] != w {
			goesOn := find(got[i:], want[first+i:min(first+i+1000, len(want))])
			return []string{fmt.Sprintf("sample %d of %d (%.3f s) is %d, want %d; it goes on %d samples later", i, len(want), float64(i)/pacer.SampleRate, got[i], w, goesOn)}
		}
	}
	t.Logf("%d samples are the same", len(want)-first)

	zero := heard.Time(begin - first) // when the timeline began, as it was heard
	var late []time.Duration
	for _, c := range browsertest.Eval[[][]any](x.Browser, "shown") {
		word, at := c[0].(string), time.UnixMicro(int64(c[1].(float64)*1000))
		for _, s := range tl.Steps {
			if d := at.Sub(zero.Add(s.Onset())); strings.EqualFold(s.Breath.String(), word) && d.Abs() < time.Second {
				late = append(late, d)
			}
		}
	}
	if len(late) < 10 {
		return []string{fmt.Sprintf("%d words were seen", len(late))}
	}
	slices.Sort(late)
	t.Logf("%d words are on the screen %v to %v after their sound", len(late), late[0], late[len(late)-1])
	if late[0] < -50*time.Millisecond || late[len(late)-1] > 50*time.Millisecond {
		found = append(found, fmt.Sprintf("a word is on the screen %v to %v after its sound", late[0], late[len(late)-1]))
	}
	return found
}

// find returns where some samples are in others, -1 for nowhere.
func find(in, samples []int16) int {
	for at := 0; ; at++ {
		next := slices.Index(in[at:], samples[0])
		if next < 0 || at+next+len(samples) > len(in) {
			return -1
		}
		at += next
		if slices.Equal(in[at:at+len(samples)], samples) {
			return at
		}
	}
}

// silentAfter taps Stop, and returns how long after the tap the sound went on. A second
// after the tap a voice, if there is one, says what to do.
func silentAfter(x phone, heard *outtest.Recording, voice bool) time.Duration {
	x.t.Helper()
	at := browsertest.Eval[[]float64](x.Browser, `(() => { globalThis.tapped = 0
		addEventListener("pointerdown", e => { tapped = performance.timeOrigin + e.timeStamp }, {capture: true, once: true})
		const r = document.getElementById("stop").getBoundingClientRect(); return [r.x + r.width / 2, r.y + r.height / 2] })()`)
	x.Do(chromedp.MouseClickXY(at[0], at[1]))
	time.Sleep(pacer.DeafAfterStop + 500*time.Millisecond)
	tapped := time.UnixMicro(int64(browsertest.Eval[float64](x.Browser, "tapped") * 1000))
	index := int(tapped.Sub(heard.Time(0)) * pacer.SampleRate / time.Second)
	last, speaks := 0, false // sample after the tap that is heard; words a second later
	for i, s := range heard.Samples()[index : index+3*pacer.SampleRate] {
		switch {
		case s <= 100 && s >= -100:
		case i < pacer.SampleRate:
			last = i
		default:
			speaks = true
		}
	}
	if speaks != voice {
		x.t.Errorf("says what to do: %v, want %v", speaks, voice)
	}
	took := time.Duration(last) * time.Second / pacer.SampleRate
	x.t.Logf("silent after %v", took)
	if last == 0 {
		x.t.Error("nothing sounded")
	}
	return took
}

// A stop is silent within 100 ms of the tap, wherever in a block of samples it comes.
func TestPageStopIsSilent(t *testing.T) {
	server := outtest.Start(t)
	x := open(t, minute, loud(server)...)
	x.begin()
	heard := server.Record(t)
	const stops = 8
	late := 0 // a machine that does other work may be late once
	for i := range stops {
		x.until("EXHALE")
		time.Sleep(time.Second/2 + time.Duration(i)*time.Second/2/stops)
		took := silentAfter(x, heard, false)
		if took > 100*time.Millisecond {
			late++
		}
		if late > 1 || took > 200*time.Millisecond {
			t.Errorf("stop %d: silent after %v", i, took)
		}
		x.tap("It was only a pause")
	}
}

// A stop silences the voice in the middle of a sentence, and what it would have said
// then is never heard.
func TestPageStopSilencesTheVoice(t *testing.T) {
	server := outtest.Start(t)
	clinic := newClinic(t, strings.NewReplacer("posture: none", "posture: full", "set_up: 3s", "set_up: 30s").Replace(short))
	clinic.run("page", "short.yaml", "-o", "short.html")
	x := phone{browsertest.Open(t, loud(server)...), t}
	x.Load(filepath.Join(clinic.folder, "short.html"))
	x.begin()
	x.until("POSTURE")
	heard := server.Record(t)
	time.Sleep(4 * time.Second) // the words are long
	if took := silentAfter(x, heard, true); took > 200*time.Millisecond {
		t.Errorf("silent after %v", took)
	}
}
