// Package page makes the self-contained HTML pages: one file each, which asks
// the network for nothing, follows the system's light or dark setting, works
// with keys and can be printed.
//
// The shell (assets/shell.*) is shared; a page adds its own template, style
// and script of its name. Text arrives as plain strings and is escaped here;
// control bytes must have been made printable by the caller.
package page

import (
	"bufio"
	"crypto/sha256"
	"embed"
	"encoding/base64"
	"html/template"
	"io"
)

//go:embed assets
var assets embed.FS

// shell is what assets/shell.html shows.
type shell struct {
	Title  string
	Policy string // content security policy
	Style  template.CSS
	Script template.JS
	Data   any
}

// asset gives an embedded file; that it exists is settled at build time.
func asset(name string) string {
	b, err := assets.ReadFile("assets/" + name)
	if err != nil {
		panic("BUG: " + err.Error())
	}
	return string(b)
}

// load parses the shell and the page's template, which defines "main".
func load(name string) *template.Template {
	t := template.Must(template.New("shell").Parse(asset("shell.html")))
	return template.Must(t.Parse(asset(name + ".html")))
}

// render writes the page called name. Style and script are the project's own
// files, so they need no escaping; the policy allows exactly them, by hash,
// and nothing from anywhere else.
func render(w io.Writer, t *template.Template, name, title string, data any) error {
	style := asset("shell.css") + asset(name+".css")
	script := asset("shell.js") + asset(name+".js")
	s := shell{
		Title: title, Style: template.CSS(style), Script: template.JS(script), Data: data,
		Policy: "default-src 'none'; img-src data:; style-src " + hashOf(style) + "; script-src " + hashOf(script) +
			"; base-uri 'none'; form-action 'none'",
	}
	b := bufio.NewWriterSize(w, 1<<16)
	if err := t.Execute(b, s); err != nil {
		return err
	}
	return b.Flush()
}

func hashOf(s string) string {
	sum := sha256.Sum256([]byte(s))
	return "'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'"
}
