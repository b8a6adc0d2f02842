//go:build js && wasm

package main

import (
	"math"
	"strconv"
	"strings"
	"syscall/js"
	"time"

	"glidepace/sessions"
	"glidepace/sounds/voice"
)

var navigator = js.Global().Get("navigator")

// await waits for a promise.
func await(promise js.Value) (v js.Value, ok bool) {
	done := make(chan bool, 1)
	good := js.FuncOf(func(_ js.Value, args []js.Value) any {
		if len(args) > 0 {
			v = args[0]
		}
		done <- true
		return nil
	})
	bad := js.FuncOf(func(js.Value, []js.Value) any { done <- false; return nil })
	defer good.Release()
	defer bad.Release()
	promise.Call("then", good, bad)
	ok = <-done
	return v, ok
}

// onlyHere reports whether no other window has the diary, and keeps it from them
// as long as this one is open. A browser without locks cannot tell.
func onlyHere(name string) bool {
	locks := navigator.Get("locks")
	if !locks.Truthy() {
		return true
	}
	held := make(chan bool, 1)
	got := js.FuncOf(func(_ js.Value, args []js.Value) any {
		if !args[0].Truthy() {
			held <- false
			return nil
		}
		held <- true
		never := js.FuncOf(func(js.Value, []js.Value) any { return nil })
		return js.Global().Get("Promise").New(never)
	})
	locks.Call("request", "glidepace "+name, map[string]any{"ifAvailable": true}, got)
	return <-held
}

// keepAwake keeps the screen on while a session runs, where the browser can.
func (a *app) keepAwake() (release func()) {
	lock := navigator.Get("wakeLock")
	if !lock.Truthy() {
		return func() {}
	}
	var held js.Value
	over := false
	ask := func() {
		switch v, ok := await(lock.Call("request", "screen")); {
		case ok && over:
			v.Call("release")
		case ok:
			held = v
		}
	}
	again := js.FuncOf(func(js.Value, []js.Value) any { // it is lost while the page is hidden
		if document.Get("visibilityState").String() == "visible" {
			go ask()
		}
		return nil
	})
	document.Call("addEventListener", "visibilitychange", again)
	go ask()
	return func() {
		document.Call("removeEventListener", "visibilitychange", again)
		again.Release()
		over = true
		if held.Truthy() {
			held.Call("release")
		}
	}
}

// loadVoice reads the clips that the page brings; nil where there are none.
func loadVoice(s *sessions.Session, files [][]byte, cues map[string]int) *voice.Voice {
	language, err := voice.FindLanguage(s.Sounds.Language)
	if err != nil || len(files) == 0 {
		return nil
	}
	decoder := js.Global().Get("OfflineAudioContext").New(1, 1, 48000)
	read := make([]voice.Clip, len(files))
	for i, content := range files {
		bytes := js.Global().Get("Uint8Array").New(len(content))
		js.CopyBytesToJS(bytes, content)
		if decoded, ok := await(decoder.Call("decodeAudioData", bytes.Get("buffer"))); ok {
			read[i] = clip(decoded)
		}
	}
	clips := map[string]voice.Clip{}
	for name, i := range cues {
		if i < len(read) && len(read[i]) > 0 {
			clips[name] = read[i]
		}
	}
	return voice.New(language, clips)
}

// clip reads the samples of an audio buffer.
func clip(buffer js.Value) voice.Clip {
	floats := buffer.Call("getChannelData", 0)
	n := floats.Length()
	content := make([]byte, 4*n)
	js.CopyBytesToGo(content, js.Global().Get("Uint8Array").New(floats.Get("buffer"), floats.Get("byteOffset"), 4*n))
	c := make(voice.Clip, n)
	for i := range c {
		bits := uint32(content[4*i]) | uint32(content[4*i+1])<<8 | uint32(content[4*i+2])<<16 | uint32(content[4*i+3])<<24
		c[i] = int16(max(-32768, min(32767, math.Round(float64(math.Float32frombits(bits))*32768))))
	}
	return c
}

// hand hands a file to the phone: shared where it can, which it reports, else saved.
func hand(name, text string) (shared bool) {
	file := js.Global().Get("File").New([]any{text}, name, map[string]any{"type": "text/plain"})
	data := map[string]any{"files": []any{file}}
	if navigator.Get("canShare").Truthy() && navigator.Call("canShare", data).Bool() {
		if _, ok := await(navigator.Call("share", data)); ok {
			return true
		}
	}
	link := document.Call("createElement", "a")
	url := js.Global().Get("URL").Call("createObjectURL", file)
	link.Set("href", url)
	link.Set("download", name)
	link.Call("click")
	time.AfterFunc(time.Minute, func() { js.Global().Get("URL").Call("revokeObjectURL", url) })
	return false
}

// fileName is a name that is safe as part of a file's name.
func fileName(name string) string {
	return strings.Map(func(r rune) rune {
		if r < 128 && (r == '-' || r >= '0' && r <= '9' || r >= 'A' && r <= 'Z' || r >= 'a' && r <= 'z') {
			return r
		}
		return '-'
	}, name)
}

const offsetName = "glidepace-sound-offset-ms"

// localStorage may be refused: see try.
func localStorage() js.Value {
	return js.Global().Get("Reflect").Call("get", js.Global(), "localStorage")
}

// offsetKept is how late the sound is heard, as somebody has set it on this phone.
func offsetKept() (d time.Duration) {
	try(func() {
		if v := localStorage().Call("getItem", offsetName); v.Truthy() {
			ms, _ := strconv.Atoi(v.String())
			d = time.Duration(max(0, min(ms, 2000))) * time.Millisecond
		}
	})
	return d
}

func (a *app) keepOffset(d time.Duration) {
	a.offset = d
	try(func() {
		localStorage().Call("setItem", offsetName, strconv.Itoa(int(d.Milliseconds())))
	})
}

// try does what a browser may refuse.
func try(do func()) {
	defer func() { _ = recover() }()
	do()
}
