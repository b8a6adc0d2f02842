//go:build real

package main

import (
	"cmp"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"glidepace/cmd/glidepace/internal/console"
	"glidepace/cmd/glidepace/internal/live"
	"glidepace/pacer"
	"glidepace/sounds"
	"glidepace/sounds/out/outtest"
)

const examples = "../../testdata/sessions/"

// tool runs a program to its end and returns all it wrote.
func tool(t *testing.T, name string, args ...string) string {
	t.Helper()
	text, err := exec.Command(name, args...).CombinedOutput()
	if err != nil {
		t.Fatalf("%s %s: %v\n%s", name, strings.Join(args, " "), err, text)
	}
	return string(text)
}

// rendered renders a session into a new folder and returns the file's name.
func rendered(t *testing.T, session, base string, flags ...string) string {
	t.Helper()
	name := filepath.Join(t.TempDir(), base)
	tool(t, program(t), append([]string{"render", session, "-o", name}, flags...)...)
	return name
}

// samples returns the samples of a WAV file of ours.
func samples(t *testing.T, name string) []int16 {
	t.Helper()
	b, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	list := make([]int16, len(b[44:])/2)
	for i := range list {
		list[i] = int16(binary.LittleEndian.Uint16(b[44+2*i:]))
	}
	return list
}

// What a sound server plays of a session is, sample for sample, what the file
// of that session holds: tones, ticks and words.
func TestRealLiveIsTheFile(t *testing.T) {
	file, _ := session(t, lively)
	want := samples(t, rendered(t, file, "lively.wav"))
	s := outtest.Start(t)
	recording := s.Record(t)
	r := start(t, s, "pace", file, "--yes", "--screen", "lines")
	if code := r.wait(); code != console.ExitDone {
		t.Fatalf("exit code %d", code)
	}
	time.Sleep(500 * time.Millisecond)
	recording.Stop()
	heard := recording.Samples()
	first := func(x int16) bool { return x != 0 }
	from, skip := slices.IndexFunc(heard, first), slices.IndexFunc(want, first)
	if from < 0 || skip < 0 {
		t.Fatal("nothing is to be heard")
	}
	// The first soft samples may be lost on the way. So a whole second is used to find
	// where the recording and the file match.
	const second = pacer.SampleRate
	from = slices.MinFunc(around(from-skip), func(a, b int) int {
		return cmp.Compare(apart(heard[a:a+second], want[:second]), apart(heard[b:b+second], want[:second]))
	})
	if heard = heard[from:]; len(heard) < len(want) {
		t.Fatalf("%d samples heard of %d", len(heard), len(want))
	}
	// A server that has just started a stream may leave out its first
	// milliseconds, which are silent but for the last bits of the fade-in.
	const started = pacer.SampleRate / 100
	rounded := 0
	for n := started; n < len(want); n++ {
		switch d := int(heard[n]) - int(want[n]); {
		case d < -1 || d > 1:
			t.Fatalf("sample %d heard as %d, in the file %d", n, heard[n], want[n])
		case d != 0:
			rounded++ // as the server mixes two channels to one
		}
	}
	t.Logf("%d samples are the same, %d of them but for the last bit", len(want), rounded)
}

// around returns places near n, none before 0.
func around(n int) (list []int) {
	for k := max(0, n-200); k <= n+200; k++ {
		list = append(list, k)
	}
	return list
}

// apart is how much samples differ in all.
func apart(a, b []int16) (sum int) {
	for i := range a {
		d := int(a[i]) - int(b[i])
		sum += max(d, -d)
	}
	return sum
}

// The example as a clinic hands it out: in every format, with voice and
// captions, as other programs read them.
func TestRealRender(t *testing.T) {
	file := examples + "first-week.yaml"
	line, err := live.Load(file)
	if err != nil {
		t.Fatal(err)
	}
	want := line.Duration + sounds.Tail.Seconds()
	for _, ext := range []string{"wav", "flac", "mp3", "m4a", "opus"} {
		name := rendered(t, file, "week."+ext, "--captions")
		var probe struct {
			Format struct {
				Duration string            `json:"duration"`
				Tags     map[string]string `json:"tags"`
			} `json:"format"`
			Streams []struct {
				Channels int               `json:"channels"`
				Tags     map[string]string `json:"tags"`
			} `json:"streams"`
		}
		text := tool(t, "ffprobe", "-v", "error", "-show_format", "-show_streams", "-of", "json", name)
		if err := json.Unmarshal([]byte(text), &probe); err != nil {
			t.Fatal(err)
		}
		if d, _ := strconv.ParseFloat(probe.Format.Duration, 64); math.Abs(d-want) > 0.1 {
			t.Errorf("%s lasts %v s, want %.3f", ext, d, want)
		}
		if len(probe.Streams) != 1 || probe.Streams[0].Channels != 1 {
			t.Errorf("%s has streams %+v", ext, probe.Streams)
		}
		if ext != "wav" && !strings.Contains(text, line.Title) {
			t.Errorf("%s does not have its title:\n%s", ext, text)
		}
		integrated, peak := ebur128(t, name)
		if math.Abs(integrated+20) > 0.5 || peak >= -3 {
			t.Errorf("%s: %.1f LUFS, true peak %.1f dBTP", ext, integrated, peak)
		}
		t.Logf("%-4s %.1f LUFS, true peak %.1f dBTP", ext, integrated, peak)
		if ext == "flac" {
			tool(t, "flac", "-t", "--silent", name)
		}
	}
}

var measured = regexp.MustCompile(`(?m)^ +(I|Peak): +(-?[0-9.]+) `)

// ebur128 returns what ffmpeg measures by ITU-R BS.1770: loudness in LUFS and
// true peak in dBTP.
func ebur128(t *testing.T, name string) (integrated, peak float64) {
	t.Helper()
	text := tool(t, "ffmpeg", "-nostats", "-i", name, "-filter_complex", "ebur128=peak=true", "-f", "null", "-")
	found := map[string]float64{}
	for _, m := range measured.FindAllStringSubmatch(text[strings.LastIndex(text, "Summary:"):], -1) {
		found[m[1]], _ = strconv.ParseFloat(m[2], 64)
	}
	if len(found) != 2 {
		t.Fatalf("ffmpeg measured nothing in %s:\n%s", name, text)
	}
	return found["I"], found["Peak"]
}

// Tones alone and words alone are as loud as each other, within 1 LU.
func TestRealEvenLoudness(t *testing.T) {
	levels := map[string]float64{}
	for _, part := range []string{"tones", "voice"} {
		levels[part], _ = ebur128(t, rendered(t, examples+"first-week.yaml", part+".wav", "--parts", part))
	}
	t.Logf("%v LUFS", levels)
	if apart := math.Abs(levels["tones"] - levels["voice"]); apart > 1 {
		t.Errorf("%.1f LU apart: %v", apart, levels)
	}
}

// An independent parser of WebVTT reads the captions without a complaint, and
// finds every step at its time.
func TestRealCaptions(t *testing.T) {
	for _, example := range []string{"first-week", "sixth-week", "working-up"} {
		file := examples + example + ".yaml"
		line, err := live.Load(file)
		if err != nil {
			t.Fatal(err)
		}
		name := rendered(t, file, "a.wav", "--captions", "--parts", "ticks")
		script := `const { WebVTTParser } = require("webvtt-parser");
const r = new WebVTTParser().parse(require("fs").readFileSync(process.argv[1], "utf8"), "metadata");
console.log(JSON.stringify({errors: r.errors, cues: r.cues.map(c => ({start: c.startTime, end: c.endTime, text: c.text}))}));`
		var got struct {
			Errors []any
			Cues   []struct {
				Start, End float64
				Text       string
			}
		}
		if err := json.Unmarshal([]byte(tool(t, "node", "-e", script, captionsName(name))), &got); err != nil {
			t.Fatal(err)
		}
		if len(got.Errors) > 0 {
			t.Errorf("%s: %v", example, got.Errors)
		}
		i := 0
		for k, s := range line.Steps {
			if s.Breath == pacer.BreathPause || s.Move == pacer.MovePause {
				continue
			}
			if i == len(got.Cues) {
				t.Fatalf("%s: no caption for step %d", example, k)
			}
			c := got.Cues[i]
			if math.Abs(c.Start-s.Start) > 0.0006 {
				t.Errorf("%s: step %d starts at %.4f, its caption %q at %.3f", example, k, s.Start, c.Text, c.Start)
			}
			if s.Move == pacer.Glide {
				if want := fmt.Sprintf(". %d/%d. ", s.Rep, line.RepsInSet(s)); !strings.Contains(c.Text, want) {
					t.Errorf("%s: %q, want %q in it", example, c.Text, want)
				}
			}
			i++
			for s.Breath == pacer.Free && got.Cues[i].Start < s.End()-0.001 { // sentence by sentence
				i++
			}
		}
		if i != len(got.Cues)-1 || !strings.HasPrefix(got.Cues[i].Text, "Done. ") {
			t.Errorf("%s: the last of %d captions is %q, at %d", example, len(got.Cues), got.Cues[len(got.Cues)-1].Text, i)
		}
	}
}

// The ticks of a rendered file are where the timeline has them, as aubioonset
// finds them.
func TestRealTicksOfTheFile(t *testing.T) {
	for _, example := range []string{"first-week", "sixth-week"} {
		file := examples + example + ".yaml"
		line, err := live.Load(file)
		if err != nil {
			t.Fatal(err)
		}
		onsets := outtest.OnsetSeconds(t, rendered(t, file, "ticks.wav", "--parts", "ticks"))
		var want []float64
		for _, s := range line.Steps {
			switch s.Move {
			case pacer.Glide:
				want = append(want, s.Start)
			case pacer.Return:
				want = append(want, s.Start, s.Start+0.09)
			}
		}
		if len(onsets) != len(want) {
			t.Fatalf("%s: %d onsets, want %d", example, len(onsets), len(want))
		}
		worst := 0.0
		for i := range want {
			worst = max(worst, math.Abs(onsets[i]-want[i]))
		}
		if worst > 0.003 {
			t.Errorf("%s: ticks up to %.2f ms off", example, worst*1e3)
		}
		t.Logf("%s: %d ticks within %.3f ms", example, len(want), worst*1e3)
	}
}

// peakMemory runs a program and returns the most memory that it was seen to use, in
// MB. The figure that the system gives at the end cannot be used: it includes the
// program that started it.
func peakMemory(t *testing.T, cmd *exec.Cmd) (most float64) {
	t.Helper()
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	ended := make(chan error, 1)
	go func() { ended <- cmd.Wait() }()
	for {
		select {
		case err := <-ended:
			if err != nil || most == 0 {
				t.Fatalf("%v, %.1f MB", err, most)
			}
			return most
		case <-time.After(time.Millisecond):
		}
		status, _ := os.ReadFile(fmt.Sprintf("/proc/%d/status", cmd.Process.Pid))
		name, _ := os.Readlink(fmt.Sprintf("/proc/%d/exe", cmd.Process.Pid))
		_, peak, found := strings.Cut(string(status), "VmHWM:")
		var kB float64
		if found && name != "" {
			fmt.Sscan(peak, &kB)
		}
		most = max(most, kB/1024)
	}
}

// Ten minutes of tones and ticks, the whole program and sox in turns: at most a third
// of sox's time, and under 30 MB. The time for FLAC is only reported, beside that of
// the flac program.
func TestRealRenderSpeed(t *testing.T) {
	file, line := session(t, `glidepace: 1
posture: none
title: Ten minutes
breath: {rate: 6, ratio: "1:1.5"}
set_up: 10s
exercises: [{glide: median-wrist, side: right, sets: 5, reps: 10, rest: 18s}]
`)
	if line.Duration < 600-sounds.Tail.Seconds() || line.Duration > 660 {
		t.Fatalf("the session lasts %v s", line.Duration)
	}
	dir, self := t.TempDir(), program(t)
	wav := filepath.Join(dir, "own.wav")
	own := func(name string) *exec.Cmd {
		return exec.Command(self, "render", file, "-o", filepath.Join(dir, name), "--parts", "tones,ticks", "--force")
	}
	programs := map[string]func() *exec.Cmd{
		"WAV":  func() *exec.Cmd { return own("own.wav") },
		"FLAC": func() *exec.Cmd { return own("own.flac") },
		"sox": func() *exec.Cmd {
			return exec.Command("sox", "-n", "-r", "48000", "-b", "16", "-c", "1", filepath.Join(dir, "sox.wav"), "synth", "600", "sine", "220-440")
		},
		"flac": func() *exec.Cmd {
			return exec.Command("flac", "-5", "--silent", "--force", wav, "-o", filepath.Join(dir, "flac.flac"))
		},
		"dd": func() *exec.Cmd {
			return exec.Command("dd", "if="+wav, "of="+filepath.Join(dir, "dd.wav"), "bs=1M", "conv=fsync")
		},
	}
	turns := func() map[string]float64 {
		took := map[string][]float64{}
		for range 5 {
			for _, name := range []string{"WAV", "sox", "FLAC", "flac", "dd"} {
				cmd := programs[name]()
				began := time.Now()
				if out, err := cmd.CombinedOutput(); err != nil {
					t.Fatalf("%s: %v\n%s", name, err, out)
				}
				took[name] = append(took[name], time.Since(began).Seconds())
			}
		}
		middle := map[string]float64{}
		for name, list := range took {
			slices.Sort(list)
			middle[name] = list[2]
		}
		return middle
	}
	memory, flacMemory := peakMemory(t, own("own.wav")), peakMemory(t, own("own.flac"))
	// On a busy machine up to three rounds are tried.
	for round := range 3 {
		m := turns()
		wav, flac := m["WAV"]/m["sox"], m["FLAC"]/m["flac"]
		t.Logf("medians of 5 in seconds: WAV %.3f, sox %.3f (ratio %.2f), dd %.3f (ratio %.1f); FLAC %.3f, flac -5 %.3f (ratio %.2f); at most %.1f and %.1f MB",
			m["WAV"], m["sox"], wav, m["dd"], m["WAV"]/m["dd"], m["FLAC"], m["flac"], flac, memory, flacMemory)
		if wav <= 1./3 {
			break
		}
		if round == 2 {
			t.Error("WAV is to take at most a third of sox's time")
		}
	}
	// The sound is 58 MB: neither holds it. The FLAC encoder leaves much to the
	// garbage collector.
	if memory >= 30 || flacMemory >= 45 {
		t.Errorf("%.1f MB, FLAC %.1f", memory, flacMemory)
	}
}

// Ctrl-C at the terminal, while the voice is made, while a file is written here
// or by ffmpeg: it ends at once and leaves nothing.
func TestRealWritingInterrupted(t *testing.T) {
	file, line := session(t, `glidepace: 1
posture: none
title: Nearly an hour
breath: {rate: 4, ratio: "1:1.5"}
exercises: [{glide: median-wrist, side: both, sets: 5, reps: 20, rest: 50s}]
`)
	if line.Duration < 3000 {
		t.Fatalf("the session lasts %v s", line.Duration)
	}
	cache := t.TempDir()
	for _, c := range []struct {
		name  string
		after time.Duration
	}{
		{"a.mp3", 200 * time.Millisecond}, // the voice is not in the cache yet
		{"a.html", 200 * time.Millisecond},
		{"a.mp3", 5 * time.Second},
		{"a.html", 700 * time.Millisecond},
		{"a.wav", 100 * time.Millisecond},
		{"a.flac", 300 * time.Millisecond},
	} {
		dir := t.TempDir()
		args := []string{"render", file, "--captions", "-o"}
		if filepath.Ext(c.name) == ".html" {
			args = []string{"page", file, "-o"}
		}
		cmd := exec.Command(program(t), append(args, filepath.Join(dir, c.name))...)
		cmd.Env = append(os.Environ(), "XDG_CACHE_HOME="+cache, "TMPDIR="+dir)
		cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
		var said strings.Builder
		cmd.Stdout, cmd.Stderr = &said, &said
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		time.Sleep(c.after)
		if err := syscall.Kill(-cmd.Process.Pid, syscall.SIGINT); err != nil {
			t.Fatalf("%s after %v: %v", c.name, c.after, err)
		}
		began := time.Now()
		err := cmd.Wait()
		if took := time.Since(began); took > 3*time.Second {
			t.Errorf("%s after %v: it ended %v later", c.name, c.after, took)
		}
		if err == nil {
			t.Logf("%s after %v: it was done already", c.name, c.after)
			continue
		}
		if want := "glidepace: interrupted: nothing was written\n"; !strings.HasSuffix(said.String(), want) {
			t.Errorf("%s after %v: it said %q", c.name, c.after, said.String())
		}
		left, err := os.ReadDir(dir)
		if err != nil || len(left) > 0 {
			t.Errorf("%s after %v: it left %v (%v)", c.name, c.after, left, err)
		}
	}
}
