package server_test

import (
	"encoding/json"
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/models/modelstest"
)

// countFrames notes when each frame of the page is begun, until it is told to stop.
const countFrames = `(() => {
	window.frameTimes = [];
	const next = (t) => { window.frameTimes.push(t); if (window.frameTimes.length < 20000) window.counting = requestAnimationFrame(next); };
	window.counting = requestAnimationFrame(next);
	return "";
})()`

// BenchmarkDrawing enlarges and moves the drawing of an elevation with 2,000 snags
// in a browser, by the wheel and by the pressed mouse, and counts the frames
// meanwhile: their rate on the whole, that of the median frame, and that of the
// frame which is slower than 95 % of them.
func BenchmarkDrawing(b *testing.B) {
	w := newWorld(b, modelstest.Open(b))
	south := w.strewnWall(2000)
	page := openTabOf(b, w, screens[1])
	page.signIn(defects.Clerk)
	page.open("/sites/" + w.site.ID + "/elevations/" + south)
	page.eval(`document.querySelector(".tap-drawing").scrollIntoView(); ""`)
	page.do(chromedp.Sleep(2 * time.Second))
	var gaps []float64
	for b.Loop() {
		gaps = append(gaps, page.walkAbout()...)
	}
	slices.Sort(gaps)
	sum := 0.0
	for _, g := range gaps {
		sum += g
	}
	b.ReportMetric(1000*float64(len(gaps))/sum, "frames/s")
	b.ReportMetric(1000/gaps[len(gaps)/2], "median-frames/s")
	b.ReportMetric(1000/gaps[len(gaps)*95/100], "worst-5%-frames/s")
	b.ReportMetric(0, "ns/op")
	if load, err := os.ReadFile("/proc/loadavg"); err == nil {
		var one float64
		_, err := fmt.Sscan(strings.Fields(string(load))[0], &one)
		require.NoError(b, err)
		b.ReportMetric(one, "load")
	}
}

// walkAbout enlarges a drawing until each snag is drawn by itself, moves it to and
// fro, and goes back to the whole. It tells the milliseconds between frames.
func (b *tab) walkAbout() (gaps []float64) {
	b.t.Helper()
	at := b.middleOf(".tap-drawing")
	b.eval(countFrames)
	for range 24 {
		b.wheel(at, -20, ctrlHeld)
	}
	b.do(chromedp.Sleep(300 * time.Millisecond)) // it settles
	require.Equal(b.t, "inline", b.eval(`getComputedStyle(document.querySelector(".snags-near")).display`))
	for _, side := range []float64{1, -1} {
		path := make([]spot, 60)
		for i := range path {
			path[i] = spot{at.x - side*float64(i)*8, at.y + side*float64(i%20)*4}
		}
		b.drag(at, path...)
	}
	for range 30 {
		b.wheel(at, 20, ctrlHeld)
	}
	b.do(chromedp.Sleep(300 * time.Millisecond))
	require.Equal(b.t, "none", b.eval(`getComputedStyle(document.querySelector(".snags-near")).display`))
	var times []float64
	require.NoError(b.t, json.Unmarshal([]byte(b.eval(`(() => { cancelAnimationFrame(window.counting); return JSON.stringify(window.frameTimes); })()`)), &times))
	require.Greater(b.t, len(times), 60)
	for i := 1; i < len(times); i++ {
		gaps = append(gaps, times[i]-times[i-1])
	}
	return gaps
}
