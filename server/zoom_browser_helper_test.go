package server_test

import (
	"context"
	"fmt"
	"math/rand/v2"
	"net/http"
	"strconv"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

// spot is a place on the screen.
type spot struct{ x, y float64 }

// middleOf is the middle of what a selector names.
func (b *tab) middleOf(selector string) spot {
	b.t.Helper()
	var at spot
	_, err := fmt.Sscan(b.eval(fmt.Sprintf(`(() => { const r = document.querySelector(%q).getBoundingClientRect(); return (r.left + r.width / 2) + " " + (r.top + r.height / 2); })()`, selector)), &at.x, &at.y)
	require.NoError(b.t, err)
	return at
}

func (b *tab) number(script string) float64 {
	b.t.Helper()
	f, err := strconv.ParseFloat(b.eval("String("+script+")"), 64)
	require.NoError(b.t, err, script)
	return f
}

// command sends one command of the browser's protocol.
func command[P any](b *tab, c cdp.Command[P, cdp.Empty], p P) {
	b.t.Helper()
	b.do(chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := cdp.Call(ctx, t, c, p)
		return err
	}))
}

const ctrlHeld = 2

// wheel turns the wheel over a place; below 0 is away from the reader.
func (b *tab) wheel(at spot, turn float64, modifiers int64) {
	b.t.Helper()
	command(b, cdp.Command[wheelTurn, cdp.Empty]{Method: input.CommandDispatchMouseEvent},
		wheelTurn{Type: "mouseWheel", X: at.x, Y: at.y, DeltaY: turn, Modifiers: modifiers})
}

// wheelTurn is what the protocol asks for: a wheel that did not turn sideways says so.
type wheelTurn struct {
	Type      string  `json:"type"`
	X         float64 `json:"x"`
	Y         float64 `json:"y"`
	DeltaX    float64 `json:"deltaX"`
	DeltaY    float64 `json:"deltaY"`
	Modifiers int64   `json:"modifiers"`
}

// drag moves the pressed mouse through places.
func (b *tab) drag(from spot, through ...spot) {
	b.t.Helper()
	b.do(chromedp.MouseEvent("mouseMoved", from.x, from.y), chromedp.MouseEvent("mousePressed", from.x, from.y, chromedp.ButtonLeft))
	last := from
	for _, at := range through {
		last = at
		command(b, input.DispatchMouseEvent, input.DispatchMouseEventParams{Type: "mouseMoved", X: at.x, Y: at.y, Button: "left", Buttons: 1})
	}
	b.do(chromedp.MouseEvent("mouseReleased", last.x, last.y, chromedp.ButtonLeft))
}

// touch is where fingers are; none lifts them.
func (b *tab) touch(kind input.DispatchTouchEventType, fingers ...spot) {
	b.t.Helper()
	points := make([]*input.TouchPoint, len(fingers))
	for i, f := range fingers {
		id := float64(i)
		points[i] = &input.TouchPoint{X: f.x, Y: f.y, ID: &id}
	}
	command(b, input.DispatchTouchEvent, input.DispatchTouchEventParams{Type: kind, TouchPoints: points})
}

// rowOfHouses is an invented building of 72 m by 9 m, 12 m high.
const rowOfHouses = `{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"building":"Long Row","height_m":12},
"geometry":{"type":"Polygon","coordinates":[[[-1.5,53.4],[-1.49891615,53.4],[-1.49891615,53.40008],[-1.5,53.40008],[-1.5,53.4]]]}}]}`

// strewnWall is a long wall with so many invented snags at places that a fixed seed
// chooses.
func (w *world) strewnWall(n int) string {
	w.t.Helper()
	got := w.as(defects.Clerk).send("POST", w.path("/buildings"), "application/geo+json", []byte(rowOfHouses)).want(http.StatusOK)
	south := ""
	for _, e := range got.list("elevations") {
		if e["name"] == "South" {
			south = e["id"].(string)
		}
	}
	wall, err := w.reg.Elevation(w.t.Context(), register.System("test"), w.site.ID, south)
	require.NoError(w.t, err)
	require.InDelta(w.t, 72_000, float64(wall.Length), 100)
	who := register.Actor{AccountID: w.as(defects.Clerk).id, Name: "Clerk Example"}
	r := rand.New(rand.NewPCG(1, uint64(n)))
	for i := range n {
		x, z := defects.MM(r.Int64N(int64(wall.Length))), defects.MM(r.Int64N(int64(wall.Height)))
		_, err := w.reg.RaiseSnag(w.t.Context(), who, w.site.ID, register.RaiseInput{
			Code: "SL-12", Text: "chipped corner", Severity: defects.Severities()[i%3], ElevationID: south, X: &x, Z: &z,
		})
		require.NoError(w.t, err)
	}
	return south
}
