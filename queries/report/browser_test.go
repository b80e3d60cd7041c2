package report

import (
	"context"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
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
)

// browser finds a browser; without one the test is skipped outside CI, where .ci/run installs it.
func browser(t *testing.T) string {
	t.Helper()
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if path, err := exec.LookPath(name); err == nil {
			return path
		}
	}
	if os.Getenv("CI") != "" {
		t.Fatal("there is no browser to open the report in: install chromium")
	}
	t.Skip("there is no browser to open the report in")
	return ""
}

// watched is what a page does that it should not.
type watched struct {
	mutex sync.Mutex
	said  []string // On the console, or as an error.
	asked []string // Of the network, beside the file itself.
}

func (w *watched) add(list *[]string, text string) {
	w.mutex.Lock()
	defer w.mutex.Unlock()
	*list = append(*list, text)
}

func (w *watched) hear(event any) {
	switch e := event.(type) {
	case *runtime.EventConsoleAPICalled:
		w.add(&w.said, string(e.Type))
	case *runtime.EventExceptionThrown:
		w.add(&w.said, e.ExceptionDetails.Text)
	case *log.EventEntryAdded:
		w.add(&w.said, e.Entry.Text)
	case *network.EventRequestWillBeSent:
		if !strings.HasSuffix(e.Request.URL, ".html") && e.Request.URL != "about:blank" {
			w.add(&w.asked, e.Request.URL)
		}
	}
}

// take tells what was heard and forgets it.
func (w *watched) take() (said, asked []string) {
	w.mutex.Lock()
	defer w.mutex.Unlock()
	said, asked, w.said, w.asked = w.said, w.asked, nil, nil
	return said, asked
}

// browse opens the report as people will: light, dark, on a phone and on paper.
func browse(t *testing.T, html string) {
	dir := t.TempDir()
	path := filepath.Join(dir, "report.html")
	bad := filepath.Join(dir, "bad.html")
	if err := os.WriteFile(path, []byte(html), 0o644); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(bad, []byte(`<img src="http://127.0.0.1:9/x.png"><script>console.error("heard")</script>`), 0o644); err != nil {
		t.Fatal(err)
	}
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(browser(t)), chromedp.NoSandbox, chromedp.WSURLReadTimeout(2*time.Minute))
	ctx, stop := chromedp.NewExecAllocator(t.Context(), options...)
	defer stop()
	w := &watched{}
	ctx, end := chromedp.NewContext(ctx, chromedp.WithListener(w.hear))
	defer end()
	if err := chromedp.Do(ctx, chromedp.Navigate("file://"+bad)); err != nil {
		t.Fatal(err)
	}
	if said, asked := w.take(); len(said) == 0 || len(asked) == 0 {
		t.Fatalf("a page that talks and fetches is not heard: %q, %q", said, asked)
	}
	ctx, cancel := context.WithTimeout(ctx, 5*time.Minute)
	defer cancel()
	if err := chromedp.Do(ctx, chromedp.Navigate("file://"+path)); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		scheme        string
		width, height int64
	}{{"light", 1280, 900}, {"dark", 1280, 900}, {"light", 360, 740}, {"dark", 360, 740}} {
		look(ctx, t, c.scheme, c.width, c.height)
	}
	alternatives(ctx, t)
	pdf, err := chromedp.Run(ctx, chromedp.PrintToPDF())
	if err != nil || !strings.HasPrefix(string(pdf), "%PDF") || len(pdf) < 20000 {
		t.Errorf("print gave %d bytes and %v", len(pdf), err)
	}
	if said, asked := w.take(); len(said) > 0 || len(asked) > 0 {
		t.Errorf("the page said %q and asked for %q", said, asked)
	}
}

// contrasts walks every text and tells those whose contrast with what is behind them is below 4.5:1 (WCAG 2.2).
const contrasts = `(() => {
const rgb = s => (s.match(/[\d.]+/g) || []).map(Number);
const lin = v => (v /= 255) <= 0.04045 ? v / 12.92 : Math.pow((v + 0.055) / 1.055, 2.4);
const lum = c => 0.2126 * lin(c[0]) + 0.7152 * lin(c[1]) + 0.0722 * lin(c[2]);
const behind = e => { for (; e; e = e.parentElement) { const c = rgb(getComputedStyle(e).backgroundColor); if (c.length == 3 || c[3] == 1) return c; } return [255, 255, 255]; };
const low = []; let n = 0;
const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
while (walk.nextNode()) {
  const text = walk.currentNode.data.trim(), e = walk.currentNode.parentElement;
  if (!text || ['STYLE', 'title', 'desc'].includes(e.tagName)) continue;
  const style = getComputedStyle(e), front = rgb(e.ownerSVGElement ? style.fill : style.color);
  const a = lum(front), b = lum(behind(e.ownerSVGElement || e));
  const ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
  n++;
  if (!(ratio >= 4.5)) low.push(text.slice(0, 40) + ' ' + ratio.toFixed(2));
}
return JSON.stringify({n, low, wide: document.documentElement.scrollWidth, clipped: [...document.querySelectorAll('svg[role=img] text')].filter(t => {
  const r = t.getBoundingClientRect(), s = t.ownerSVGElement.getBoundingClientRect(); return r.left < s.left - 1 || r.right > s.right + 1 || r.top < s.top - 1 || r.bottom > s.bottom + 1; }).map(t => t.textContent),
  squeezed: [...document.querySelectorAll('caption,h1,h2,h3,h4,th,li')].filter(e => e.textContent.length > 3 && e.offsetHeight > 4 * e.offsetWidth).map(e => e.textContent),
  paper: getComputedStyle(document.documentElement).backgroundColor});
})()`

func look(ctx context.Context, t *testing.T, scheme string, width, height int64) {
	t.Helper()
	media := chromedp.Func(func(ctx context.Context, target *chromedp.Target) error {
		_, err := cdp.Call(ctx, target, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}})
		return err
	})
	if err := chromedp.Do(ctx, chromedp.EmulateViewport(width, height), media); err != nil {
		t.Fatal(err)
	}
	text, err := chromedp.Run(ctx, chromedp.Evaluate[string](contrasts))
	if err != nil {
		t.Fatal(err)
	}
	var seen struct {
		N                      int
		Low, Clipped, Squeezed []string
		Wide                   int64
		Paper                  string
	}
	if err := json.Unmarshal([]byte(text), &seen); err != nil {
		t.Fatal(err)
	}
	if dark := seen.Paper == "rgb(18, 22, 29)"; dark != (scheme == "dark") {
		t.Errorf("%s: the paper is %s", scheme, seen.Paper)
	}
	if seen.N < 300 || len(seen.Low) > 0 {
		t.Errorf("%s: of %d texts these have too little contrast: %q", scheme, seen.N, seen.Low)
	}
	if seen.Wide > width {
		t.Errorf("%s: the page is %d pixels wide on a screen of %d", scheme, seen.Wide, width)
	}
	if len(seen.Squeezed) > 0 {
		t.Errorf("%s at %d: these are squeezed to a few letters a line: %q", scheme, width, seen.Squeezed)
	}
	if len(seen.Clipped) > 0 {
		t.Errorf("%s at %d: texts stand out of their pictures: %q", scheme, width, seen.Clipped)
	}
}

// structure tells pictures without words, headings out of order and head cells without scope.
const structure = `JSON.stringify({
pictures: document.querySelectorAll('svg[role=img]').length,
mute: [...document.querySelectorAll('svg[role=img]')].filter(s => !s.getAttribute('aria-labelledby').split(' ').every(i => (document.getElementById(i) || {textContent: ''}).textContent.length > 5)).length,
loose: [...document.querySelectorAll('svg:not([role=img])')].filter(s => s.getAttribute('aria-hidden') != 'true').length,
heads: [...document.querySelectorAll('h1,h2,h3,h4')].map(h => +h.tagName[1]),
unscoped: document.querySelectorAll('th:not([scope])').length, tables: document.querySelectorAll('table').length, captions: document.querySelectorAll('table > caption').length,
lang: document.documentElement.lang})`

func alternatives(ctx context.Context, t *testing.T) {
	t.Helper()
	text, err := chromedp.Run(ctx, chromedp.Evaluate[string](structure))
	if err != nil {
		t.Fatal(err)
	}
	var seen struct {
		Pictures, Mute, Loose, Unscoped, Tables, Captions int
		Heads                                             []int
		Lang                                              string
	}
	if err := json.Unmarshal([]byte(text), &seen); err != nil {
		t.Fatal(err)
	}
	if seen.Pictures < 20 || seen.Mute+seen.Loose+seen.Unscoped > 0 || seen.Tables < 3 || seen.Captions != seen.Tables || seen.Lang != "en" {
		t.Errorf("got %+v", seen)
	}
	for i, h := range seen.Heads {
		if i == 0 && h != 1 || i > 0 && (h > seen.Heads[i-1]+1 || h == 1) {
			t.Errorf("headings go from %v to %d", seen.Heads[:i], h)
		}
	}
}
