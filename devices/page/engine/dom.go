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

// setHTML fills the element of an id.
func setHTML(id, text string) {
	if old, known := written[id]; !known || old != text {
		written[id] = text
		document.Call("getElementById", id).Set("innerHTML", text)
	}
}

// escape makes text harmless in HTML.
func escape(text string) string { return html.EscapeString(text) }

func setText(id, text string) { setHTML(id, escape(text)) }

// show shows one of the two screens: "talk" or "run".
func show(id string) {
	for _, other := range []string{"talk", "run"} {
		document.Call("getElementById", other).Set("hidden", other != id)
	}
}

func focus(id string) { document.Call("getElementById", id).Call("focus") }

// paragraph is a text as HTML.
func paragraph(text string) string { return "<p>" + escape(text) + "</p>" }

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
			b.WriteString("<p><b>" + escape(k.Label) + ":</b> " + escape(k.Text) + "</p>")
		case k.Label != "":
			b.WriteString(paragraph(k.Label + ":"))
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
func button(key, words, class string) string {
	return `<button type="button" data-key="` + escape(key) + `" class="` + class + `">` + escape(upper(words)) + "</button>"
}

func upper(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
