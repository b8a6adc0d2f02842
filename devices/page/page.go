// Package page writes a session as one web page that any phone can pace: the
// program itself, built for the browser, with the session and the words of its
// voice. The page loads nothing and sends nothing, and forbids both. It keeps its
// diary in the browser.
//
// The program is in engine, and is built and kept beside this file: see
// [Options].
package page

import (
	"crypto/sha256"
	_ "embed"
	"encoding/base64"
	"encoding/json"
	"html/template"
	"io"

	"glidepace/sessions"
)

//go:generate go run ./build

var (
	//go:embed engine.wasm.gz
	engine []byte
	//go:embed wasm_exec.js
	runtime string // of Go, as it comes with the compiler
	//go:embed page.js
	script string
	//go:embed page.css
	style string
	//go:embed page.html
	source string
)

var page = template.Must(template.New("page").Parse(source))

// Options is what a page brings besides the session file.
type Options struct {
	Contact      string         `json:"-"`             // whom to call, in the clinic's words; "" for nobody
	Session      string         `json:"session"`       // the session file, as the clinician wrote it
	Parts        sessions.Parts `json:"parts"`         // what is heard
	Volume       int            `json:"volume"`        // 0 to 100
	AsPrescribed bool           `json:"as_prescribed"` // the whole session, whatever the rules say about today
	Clips        [][]byte       `json:"clips"`         // sound files that browsers can read
	Voice        map[string]int `json:"voice"`         // which of them says a cue, by the cue's name
}

// Write writes the page of a session with that title.
func Write(w io.Writer, title string, o Options) error {
	config, err := json.Marshal(o) // with <, > and & escaped, so that it ends no element
	if err != nil {
		return err
	}
	code := runtime + script
	return page.Execute(w, map[string]any{
		"Title":      title,
		"Contact":    o.Contact,
		"Style":      template.CSS(style),
		"StyleHash":  hash(style),
		"Script":     template.JS(code),
		"ScriptHash": hash(code),
		"Config":     template.JS(config),
		"Engine":     template.HTML(base64.StdEncoding.EncodeToString(engine)),
	})
}

func hash(text string) string {
	sum := sha256.Sum256([]byte(text))
	return "sha256-" + base64.StdEncoding.EncodeToString(sum[:])
}
