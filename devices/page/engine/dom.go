//go:build js && wasm

package main

import (
	"html"
	"strings"
	"syscall/js"

	"glidepace/devices/patient"
)

var document = js.Global().Get("document")

// written is what each element holds, so that nothing is written twice: a screen
// reader reads what changes.
var written = map[string]string{}

// setHTML fills the element of an id. It reports whether that changes it.
func setHTML(id, text string) bool {
	if old, known := written[id]; known && old == text {
		return false
	}
	written[id] = text
	element(id).Set("innerHTML", text)
	return true
}

func element(id string) js.Value { return document.Call("getElementById", id) }

// escape makes text harmless in HTML.
func escape(text string) string { return html.EscapeString(text) }

func setText(id, text string) { setHTML(id, escape(text)) }

// show shows one of the two screens: "talk" or "run".
func show(id string) {
	for _, other := range []string{"talk", "run"} {
		element(other).Set("hidden", other != id)
	}
}

func focus(id string) { element(id).Call("focus") }

// focusedKey returns the key of the button that has the focus, "" for none.
func focusedKey() string {
	if key := document.Get("activeElement").Get("dataset").Get("key"); key.Truthy() {
		return key.String()
	}
	return ""
}

// keepFocus gives the focus back to the button of a key or, if that is gone, to the
// first of some elements that can have it.
func keepFocus(key string, others ...string) {
	body := document.Get("body")
	if key != "" {
		if b := body.Call("querySelector", `#run [data-key="`+key+`"]:enabled`); b.Truthy() {
			b.Call("focus")
		}
	}
	for _, id := range others {
		if now := document.Get("activeElement"); now.Equal(body) || now.Get("hidden").Bool() {
			focus(id)
		}
	}
}

// paragraph is a text as HTML, nothing for "".
func paragraph(text string) string {
	if text == "" {
		return ""
	}
	return "<p>" + escape(text) + "</p>"
}

// question is a text in large letters.
func question(text string) string { return `<p class="question">` + escape(text) + "</p>" }

// blocks is a patient's text as HTML.
func blocks(t patient.Text) string {
	var b strings.Builder
	list := func(items []string) {
		b.WriteString("<ul>")
		for _, item := range items {
			b.WriteString("<li>" + escape(item) + "</li>")
		}
		b.WriteString("</ul>")
	}
	for _, k := range t {
		switch {
		case k.Heading != "":
			b.WriteString("<h2>" + escape(k.Heading) + "</h2>")
		case k.Label != "" && k.Text != "":
			b.WriteString("<p><b>" + escape(upper(k.Label)) + ":</b> " + escape(k.Text) + "</p>")
		case k.Label != "":
			b.WriteString(paragraph(upper(k.Label) + ":"))
		case k.Text != "":
			b.WriteString(paragraph(k.Text))
		}
		if k.Items != nil {
			list(k.Items)
		}
	}
	return b.String()
}

// button is a button that says a key when it is pressed.
func button(key, words, class string) string { return controlButton(key, words, class, false) }

// controlButton is a button that may be off for now.
func controlButton(key, words, class string, off bool) string {
	disabled := ""
	if off {
		disabled = " disabled"
	}
	return `<button type="button" data-key="` + escape(key) + `" class="` + class + `"` + disabled + ">" + escape(upper(words)) + "</button>"
}

func upper(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
