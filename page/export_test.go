package page

import (
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

// Browser lets the tests outside this package, which can make a page by the
// command, use the browser.
type Browser struct{ *browser }

func Open(t *testing.T, html string) Browser {
	t.Helper()
	return Browser{open(t, html)}
}

func (b Browser) Run(steps ...chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	b.run(steps...)
}

func Eval[T any](b Browser, js string) T {
	b.t.Helper()
	return eval[T](b.browser, js)
}

func (b Browser) Clean() {
	b.t.Helper()
	b.clean()
}

func (b Browser) Scheme(name string) {
	b.t.Helper()
	b.scheme(name)
}

// Media makes the page look as on paper ("print"), or on the screen again
// (""), while the system wants light or dark.
func (b Browser) Media(name, scheme string) {
	b.t.Helper()
	_, err := chromedp.Call(b.ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: name,
		Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}})
	require.NoError(b.t, err)
}

func (b Browser) Faint() string {
	b.t.Helper()
	return b.faint()
}

func (b Browser) Look(name string) { b.look(name) }

// PDF prints the page as the browser's own print command would.
func (b Browser) PDF() []byte {
	b.t.Helper()
	pdf, err := chromedp.Run(b.ctx, chromedp.PrintToPDF(chromedp.PDFPaper(chromedp.PaperA4)))
	require.NoError(b.t, err)
	return pdf
}
