package page

import (
	"context"
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

// browser opens a page of ours in headless Chromium, served from a server
// that gives nothing else. Its check reports console messages and requests.
type browser struct {
	t   *testing.T
	ctx context.Context

	mu      sync.Mutex
	console []string
	asked   []string
}

func findChromium() string {
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome", "chrome"} {
		if path, err := exec.LookPath(name); err == nil {
			return path
		}
	}
	return ""
}

func open(t *testing.T, html string) *browser {
	t.Helper()
	path := findChromium()
	if path == "" {
		if os.Getenv("ROMWRIGHT_CI") != "" {
			t.Fatal("no browser: Chromium is not installed")
		}
		t.Skip("no browser: Chromium is not installed")
	}
	b := &browser{t: t}
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		b.mu.Lock()
		b.asked = append(b.asked, r.URL.Path)
		b.mu.Unlock()
		if r.URL.Path != "/page.html" {
			http.NotFound(w, r)
			return
		}
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		fmt.Fprint(w, html)
	}))
	t.Cleanup(server.Close)
	options := append(chromedp.DefaultExecAllocatorOptions[:],
		chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.UserDataDir(t.TempDir()),
		chromedp.Flag("disable-background-networking", true), chromedp.WindowSize(1280, 800))
	alloc, stop := chromedp.NewExecAllocator(context.Background(), options...)
	t.Cleanup(stop)
	ctx, cancel := chromedp.NewContext(alloc)
	t.Cleanup(func() {
		// waits until the browser has gone, so that its profile can be removed
		_ = chromedp.Cancel(ctx)
		cancel()
	})
	require.NoError(t, chromedp.Do(ctx), "the browser does not start") // without a time limit, which would bind the browser
	ctx, cancel = context.WithTimeout(ctx, 60*time.Second)
	t.Cleanup(cancel)
	b.ctx = ctx
	require.NoError(t, chromedp.Listen(ctx, func(event any) {
		b.mu.Lock()
		defer b.mu.Unlock()
		switch e := event.(type) {
		case *runtime.EventConsoleAPICalled:
			b.console = append(b.console, "console."+string(e.Type))
		case *runtime.EventExceptionThrown:
			b.console = append(b.console, e.ExceptionDetails.Text)
		case *log.EventEntryAdded:
			b.console = append(b.console, e.Entry.Text)
		case *network.EventRequestWillBeSent:
			if !strings.HasPrefix(e.Request.URL, "data:") {
				b.asked = append(b.asked, e.Request.URL)
			}
		}
	}))
	_, err := chromedp.Call(ctx, network.Enable, network.EnableParams{})
	require.NoError(t, err)
	_, err = chromedp.Call(ctx, log.Enable, cdp.Empty{})
	require.NoError(t, err)
	b.run(chromedp.Navigate(server.URL + "/page.html"))
	return b
}

func (b *browser) run(steps ...chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	require.NoError(b.t, chromedp.Do(b.ctx, steps...))
}

// eval gives the value of an expression in the page.
func eval[T any](b *browser, js string) T {
	b.t.Helper()
	v, err := chromedp.Run(b.ctx, chromedp.Evaluate[T](js))
	require.NoError(b.t, err)
	return v
}

// clean checks that the page asked for nothing but itself and wrote nothing
// to the console.
func (b *browser) clean() {
	b.t.Helper()
	b.mu.Lock()
	defer b.mu.Unlock()
	require.Empty(b.t, b.console)
	for _, url := range b.asked {
		require.True(b.t, strings.HasSuffix(url, "/page.html"), "the page asked for %s", url)
	}
}

// look writes pictures of the page in light and dark where the environment
// names a folder for them, so that a person can look at them.
func (b *browser) look(name string) {
	dir := os.Getenv("ROMWRIGHT_PICTURES")
	if dir == "" {
		return
	}
	for _, scheme := range []string{"light", "dark"} {
		b.scheme(scheme)
		png, err := chromedp.Run(b.ctx, chromedp.CaptureScreenshot())
		require.NoError(b.t, err)
		require.NoError(b.t, os.WriteFile(dir+"/"+name+"-"+scheme+".png", png, 0o666))
	}
}

// scheme makes the system want light or dark.
func (b *browser) scheme(name string) {
	b.t.Helper()
	_, err := chromedp.Call(b.ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
		Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: name}},
	})
	require.NoError(b.t, err)
}

// faint lists text that does not stand out enough from what lies behind it: a
// contrast of 4.5 to 1 (WCAG 2.2, success criterion 1.4.3).
func (b *browser) faint() string {
	b.t.Helper()
	return eval[string](b, `(() => {
		const lum = (c) => {
			const [r, g, b] = c.match(/[\d.]+/g).map(Number).map((v) => v / 255).map((v) => v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4);
			return 0.2126 * r + 0.7152 * g + 0.0722 * b;
		};
		const behind = (e) => {
			for (; e; e = e.parentElement) {
				const c = getComputedStyle(e).backgroundColor;
				if (c !== 'rgba(0, 0, 0, 0)') return c;
			}
			return 'rgb(255, 255, 255)';
		};
		const bad = [];
		for (const e of document.querySelectorAll('main *')) {
			if (!Array.from(e.childNodes).some((n) => n.nodeType === 3 && n.textContent.trim())) continue;
			const [a, c] = [lum(getComputedStyle(e).color), lum(behind(e))];
			const ratio = (Math.max(a, c) + 0.05) / (Math.min(a, c) + 0.05);
			if (ratio < 4.5) bad.push(e.className + ' ' + e.tagName + ' ' + e.textContent.slice(0, 20) + ' ' + ratio.toFixed(2));
		}
		return bad.join('\n');
	})()`)
}
