package report_test

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/report"
)

// crowds are walls with few and with far too many snags.
func crowds() map[string]report.Drawing {
	out := map[string]report.Drawing{}
	for _, c := range []struct {
		n          int
		long, high defects.MM
	}{{8, 12, 6}, {40, 42, 9}, {400, 72, 12}, {2000, 72, 12}, {60, 6, 18}} {
		out[fmt.Sprintf("%d on %d m", c.n, c.long)] = strewn(face(c.long, c.high), c.n)
	}
	bare := face(30, 6)
	bare.Bays, bare.Lifts = nil, nil
	out["300 on a wall without bays"] = strewn(bare, 300)
	tight := face(10, 6)
	tight.Bays = defects.EvenBays(tight.Length, 400)
	out["200 in bays narrower than a brick"] = strewn(tight, 200)
	return out
}

func TestSnagsStayLegibleHoweverMany(t *testing.T) {
	t.Parallel()
	for name, d := range crowds() {
		for layer, all := range layersOf(shapes(t, report.ElevationSVG(d))) {
			t.Run(name+", "+layer, func(t *testing.T) {
				t.Parallel()
				legible(t, d.Elevation, all)
			})
		}
	}
}

func legible(t *testing.T, e defects.Elevation, all []shape) {
	t.Helper()
	wall := box{0, 0, float64(e.Length), float64(e.Height)}
	bricks := boxesOf(pick(all, "snag-brick"))
	require.NotEmpty(t, bricks)
	for what, list := range map[string][]box{"brick": bricks, "number": platesOf(t, all)} {
		for i, b := range list {
			require.True(t, b.within(wall), "a %s beyond the wall: %v", what, b)
			require.LessOrEqual(t, b.x1-b.x0, 2500.0, "no longer than a bay")
			for _, o := range list[:i] {
				if b.meets(o) {
					t.Fatalf("one %s on another: %v %v", what, b, o)
				}
			}
		}
	}
	for i, h := range boxesOf(pick(all, "snag-hit")) {
		for j, b := range bricks {
			if i != j && h.meets(b) {
				t.Fatalf("a brick can be tapped that is another's: %v %v", h, b)
			}
		}
	}
}

// platesOf are what the numbers stand on.
func platesOf(t *testing.T, all []shape) (out []box) {
	t.Helper()
	for _, s := range pick(all, "snag-plate") {
		for part := range strings.SplitSeq(strings.TrimSuffix(s.at["d"], "z"), "z") {
			var x, y, long, high, back float64
			if part == "" {
				continue
			}
			_, err := fmt.Sscanf(part, "M%f %fh%fv%fh%f", &x, &y, &long, &high, &back)
			require.NoError(t, err)
			require.InDelta(t, -long, back, 0)
			out = append(out, box{x, y, x + long, y + high})
		}
	}
	return out
}

func boxesOf(list []shape) []box {
	out := make([]box, len(list))
	for i, s := range list {
		out[i] = boxOf(s)
	}
	return out
}

// Of two thousand on a long wall nearly all can be told apart from near by.
func TestACrowdedWallShowsItsSnagsOneByOneFromNearBy(t *testing.T) {
	t.Parallel()
	d := strewn(face(72, 12), 2000)
	layers := layersOf(shapes(t, report.ElevationSVG(d)))
	require.Less(t, len(pick(layers["far"], "snag")), 500)
	require.Greater(t, len(pick(layers["near"], "snag"))-len(pick(layers["near"], "snag-many")), 1800)
	ids := map[string]bool{}
	for _, all := range layers {
		for _, s := range all {
			if id := s.at["id"]; id != "" {
				require.False(t, ids[id], id)
				ids[id] = true
			}
		}
	}
	require.Len(t, layersOf(shapes(t, report.ElevationSVG(strewn(face(12, 6), 8)))), 1, "few snags need no second layer")
}

func TestEverySnagIsDrawnOnceOrCounted(t *testing.T) {
	t.Parallel()
	for name, d := range crowds() {
		for layer, all := range layersOf(shapes(t, report.ElevationSVG(d))) {
			require.Equal(t, len(d.Snags), told(t, all), name+", "+layer)
		}
	}
}

// told counts the snags of bricks, those of one that stands for many by its title.
func told(t *testing.T, all []shape) int {
	t.Helper()
	counted, single := 0, map[string]bool{}
	for _, s := range pick(all, "snag") {
		if n, _, isMany := strings.Cut(s.title, " snags"); isMany {
			many, err := strconv.Atoi(n)
			require.NoError(t, err, s.title)
			counted += many
			require.Contains(t, s.title, "SN-")
			require.True(t, strings.HasPrefix(s.href, "/e?bay="), s.href)
			continue
		}
		require.False(t, single[s.href], s.href)
		single[s.href] = true
	}
	return counted + len(single)
}

func TestLeadsAreNoLongerThanOneCellAndNumbersLieOnTop(t *testing.T) {
	t.Parallel()
	leads := 0
	for name, d := range crowds() {
		for _, all := range layersOf(shapes(t, report.ElevationSVG(d))) {
			leads += shortLeads(t, name, all)
		}
	}
	require.Positive(t, leads)
}

func shortLeads(t *testing.T, name string, all []shape) (leads int) {
	t.Helper()
	last := 0
	brick := pick(all, "snag-brick")[0]
	for i, s := range all {
		switch s.class {
		case "snag-lead":
			var x0, y0, x1, y1 float64
			_, err := fmt.Sscanf(s.at["d"], "M%f %fL%f %f", &x0, &y0, &x1, &y1)
			require.NoError(t, err)
			require.LessOrEqual(t, math.Abs(x1-x0), 2*brick.n("width"), name)
			require.LessOrEqual(t, math.Abs(y1-y0), 4*brick.n("height"), name)
			leads++
			require.Zero(t, last, "a line over a number")
		case "snag-number":
			last = i
		}
		if strings.HasPrefix(s.class, "snag-brick") {
			require.Zero(t, last, "%s: a brick over a number", name)
		}
	}
	return leads
}

func TestFortySnagsAtOnePlaceAreOneBrickThatLeadsToTheirList(t *testing.T) {
	t.Parallel()
	d := report.Drawing{Elevation: walls()[0], AreaHref: areaHref}
	for i := range 40 {
		d.Snags = append(d.Snags, report.DrawnSnag{Number: i + 1, Place: defects.Place{X: at(3000), Z: at(2100)}, Severity: defects.Minor, State: defects.Raised, Href: "/s"})
	}
	d.Snags[20].Severity = defects.Major
	bricks := pick(drawnFar(t, d), "snag")
	require.Len(t, bricks, 1)
	require.Equal(t, "/e?bay=2&lift=2", bricks[0].href)
	require.Contains(t, bricks[0].title, "40 snags in bay 2, lift 2: SN-0001, SN-0002")
	require.Contains(t, bricks[0].title, "and 28 more")
	require.Len(t, pick(drawnFar(t, d), "major"), 1, "the gravest gives the outline")
	d.AreaHref = nil
	require.Empty(t, pick(drawnFar(t, d), "snag")[0].href)
}
