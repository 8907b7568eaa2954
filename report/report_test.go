package report_test

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"encoding/xml"
	"errors"
	"flag"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/report"
)

var update = flag.Bool("update", false, "write the golden files anew")

// golden compares with a file of testdata, or writes it under -update.
func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	file := filepath.Join("testdata", name)
	if *update {
		require.NoError(t, os.MkdirAll("testdata", 0o755))
		require.NoError(t, os.WriteFile(file, got, 0o600))
	}
	want, err := os.ReadFile(file)
	require.NoError(t, err)
	require.Equal(t, string(want), string(got), "%s; look at the difference, then run with -update", name)
}

func at(mm int64) *defects.MM { v := defects.MM(mm); return &v }

func dec(text string) *defects.Decimal { d := defects.MustDecimal(text); return &d }

// block is an invented building of 20 m by 11 m.
func block() defects.Building {
	return defects.Building{ID: "b1", SiteID: "s1", Name: "Terrace A", Height: 6000, Ring: []defects.LonLat{
		{Lon: -1.5, Lat: 53.4}, {Lon: -1.4997, Lat: 53.4}, {Lon: -1.4997, Lat: 53.4001}, {Lon: -1.5, Lat: 53.4001},
	}}
}

func walls() []defects.Elevation {
	list := defects.ElevationsOf(block(), defects.ElevationOptions{BayWidth: 2500, LiftHeight: 2000})
	for i := range list {
		list[i].ID = "e" + list[i].Name
	}
	list[0].BaseLine = 150
	list[0].Openings = []defects.Opening{
		{Name: "W01", Kind: "window", X: 1200, Z: 900, Width: 1200, Height: 1500},
		{Name: "D01", Kind: "door", X: 4000, Width: 1000, Height: 2100},
	}
	return list
}

// lists is an invented site's snag list with every state, places of every kind,
// and texts that try to be something else.
func lists() []defects.SnagList {
	raised := time.Date(2026, 6, 1, 11, 0, 0, 0, time.UTC)
	wall := walls()[0]
	places := []defects.Place{
		{ElevationID: wall.ID, X: at(1250), Z: at(5000), Bay: 1, Lift: 3},
		{ElevationID: wall.ID, Bay: 2, Lift: 2},
		{ElevationID: wall.ID, Opening: "W01"},
		{ElevationID: wall.ID, X: at(1300), Z: at(5010), Bay: 1, Lift: 3},
		{ElevationID: wall.ID, X: at(19900), Z: at(100), Bay: 8, Lift: 1},
		{ElevationID: wall.ID, Lift: 1},
		{ElevationID: wall.ID, Bay: 4, Lift: 1},
		{ElevationID: wall.ID, Bay: 5, Lift: 1},
	}
	list := defects.SnagList{
		Site: defects.Site{ID: "s1", Name: "Larkrow Court", Demo: true}, Elevation: wall, At: raised.Add(time.Hour), Seq: 42,
		Counts: map[defects.State]int{}, BySeverity: map[defects.Severity]int{},
	}
	texts := []string{"", "=HYPERLINK(\"x\")", "two\nlines, and a \"quote\"", "<script>alert(1)</script>", "-2 mm", "@sum", "", ""}
	for i, state := range defects.States() {
		severity := defects.Severities()[i%3]
		s := defects.Snag{
			ID: "n" + string(rune('1'+i)), SiteID: "s1", Number: i + 1, Code: "SL-07", Title: "Joint width out of limit", Stage: "SL",
			Severity: severity, State: state, Place: places[i], PlaceWords: defects.PlaceWords(wall.Building, wall, places[i]), Text: texts[i],
			Gang: "gang 2", Round: i % 3, RaisedAt: raised, RaisedBy: defects.Person{Name: "Clerk Example"}, ReadingText: "13.6 mm against 7 to 13 mm",
		}
		item := defects.SnagItem{Snag: s}
		if i == 1 {
			item.Thumbs = []string{"p1", "p2"}
			item.Due = defects.Due{On: "2026-06-20", Reason: defects.DueStrike, Text: "scaffold strike"}
			item.Also = []defects.Due{{On: "2026-08-01", Reason: defects.DueCompletion, Text: "practical completion"}}
			item.Overdue = 50
		}
		list.Items = append(list.Items, item)
		list.Counts[state]++
		list.BySeverity[severity]++
	}
	return []defects.SnagList{list}
}

func london(t *testing.T) *time.Location {
	t.Helper()
	zone, err := time.LoadLocation("Europe/London")
	require.NoError(t, err)
	return zone
}

func TestSnagListsAreWrittenAsTheGoldenFilesSay(t *testing.T) {
	t.Parallel()
	var table, object, features bytes.Buffer
	require.NoError(t, report.WriteSnagCSV(&table, lists(), london(t)))
	require.NoError(t, report.WriteSnagJSON(&object, lists(), london(t)))
	require.NoError(t, report.WriteSnagGeoJSON(&features, lists(), []defects.Building{block()}, london(t)))
	golden(t, "snags.csv", table.Bytes())
	golden(t, "snags.json", object.Bytes())
	golden(t, "snags.geojson", features.Bytes())
}

func TestEveryFormOfAListTellsTheSameSnags(t *testing.T) {
	t.Parallel()
	var table, features bytes.Buffer
	require.NoError(t, report.WriteSnagCSV(&table, lists(), london(t)))
	rows, err := csv.NewReader(&table).ReadAll()
	require.NoError(t, err)
	require.Equal(t, report.SnagColumns(), rows[0])
	object := report.SnagListOf(lists()[0], london(t))
	require.Len(t, object.Snags, len(rows)-1)
	require.NoError(t, report.WriteSnagGeoJSON(&features, lists(), []defects.Building{block()}, london(t)))
	var read struct {
		Features []struct {
			ID       string
			Geometry *struct{ Coordinates [2]float64 }
		}
	}
	require.NoError(t, json.Unmarshal(features.Bytes(), &read))
	for i, s := range object.Snags {
		require.Equal(t, s.Ref, rows[i+1][2])
		require.Equal(t, s.Ref, read.Features[i].ID)
	}
	require.NotEmpty(t, object.Note)
	require.True(t, object.Invented)
}

func TestACellNeverRunsAsAFormula(t *testing.T) {
	t.Parallel()
	for _, typed := range []string{"=1+1", "+1", "-2 mm", "@sum(a1)", "\t=1", "\r=1"} {
		require.Equal(t, "'"+typed, report.Cell(typed))
	}
	require.Equal(t, "13.6 mm", report.Cell("13.6 mm"))
}

// Points lie on the foot of their wall: between its two corners, in proportion.
func TestSnagsLieOnTheFootOfTheirWall(t *testing.T) {
	t.Parallel()
	var out bytes.Buffer
	require.NoError(t, report.WriteSnagGeoJSON(&out, lists(), []defects.Building{block()}, london(t)))
	var read struct {
		Features []struct {
			Geometry *struct{ Coordinates [2]float64 }
		}
	}
	require.NoError(t, json.Unmarshal(out.Bytes(), &read))
	wall := walls()[0]
	require.Equal(t, "South", wall.Name)
	at := read.Features[0].Geometry.Coordinates
	require.InDelta(t, 53.4, at[1], 1e-6)
	// The south wall is seen from the south, so its left end is the western corner.
	require.InDelta(t, -1.5+0.0003*1250/float64(wall.Length), at[0], 1e-6)
	require.Nil(t, read.Features[2].Geometry, "known by its opening alone: no point is made up")
	require.Nil(t, read.Features[5].Geometry, "bay unknown")
}

func drawing() report.Drawing {
	d := report.Drawing{Elevation: walls()[0], Bay: 2, Lift: 1, AreaHref: areaHref}
	for _, item := range lists()[0].Items {
		s := item.Snag
		d.Snags = append(d.Snags, report.DrawnSnag{Number: s.Number, Place: s.Place, Severity: s.Severity, State: s.State, Title: s.Title + " " + s.Text, Href: "/snags/1"})
	}
	for i, outcome := range []defects.Outcome{defects.Pass, defects.Fail, defects.NoVerdict} {
		d.Ticks = append(d.Ticks, report.DrawnTick{Place: defects.Place{Bay: i + 1, Lift: 1}, Outcome: outcome, Title: string(outcome)})
	}
	return d
}

func verdict() defects.Verdict {
	return defects.Verdict{Outcome: defects.Fail, Lower: dec("7"), Upper: dec("13"), Expanded: dec("0.5")}
}

func drawings() map[string]string {
	faces := []report.PlanElevation{}
	for i, e := range walls() {
		faces = append(faces, report.PlanElevation{Elevation: e, Open: i, Href: "/e"})
	}
	typed := defects.Building{ID: "b2", Name: "Shed & store", Plan: []defects.XY{{X: 0, Y: 0}, {X: 5, Y: 0}, {X: 5, Y: 4}, {X: 0, Y: 4}}}
	courses := []report.Course{{Name: "H1", Title: "Design basis complete"}, {Name: "H2", Title: "Wall fit to board"}}
	for i := range courses {
		for _, state := range report.BrickStates() {
			courses[i].Bricks = append(courses[i].Bricks, report.Brick{Title: "a wall", State: state})
		}
	}
	return map[string]string{
		"elevation.svg":   report.ElevationSVG(drawing()),
		"line.svg":        report.NumberLineSVG(defects.MustDecimal("13.6"), "mm", verdict()),
		"line-least.svg":  report.NumberLineSVG(defects.MustDecimal("95"), "mm", defects.Verdict{Outcome: defects.Fail, Lower: dec("100")}),
		"plan.svg":        report.PlanSVG([]defects.Building{block(), typed}, faces),
		"plan-photos.svg": photoPlan(),
		"cover.svg":       report.ElevationSVG(coverDrawing()),
		"shaded.svg":      report.ElevationSVG(shadedDrawing()),
		"coursed.svg":     report.CoursedSVG(courses, coursedAreas()),
		"hatch.svg":       report.HatchSVG(defects.Instructed),
		"severity.svg":    report.SeveritySVG(defects.Critical),
		"brick.svg":       report.BrickSVG(report.BrickConditions),
		"plan-typed.svg":  report.PlanSVG([]defects.Building{typed}, nil),
		"elevation-0.svg": report.ElevationSVG(report.Drawing{Elevation: defects.Elevation{Name: "North", Building: "Shed", Length: 600, Height: 400}}),
	}
}

func TestDrawingsAreAsTheGoldenFilesSay(t *testing.T) {
	t.Parallel()
	for name, svg := range drawings() {
		golden(t, name, []byte(svg+"\n"))
	}
}

// A drawing is put into pages as it is, so it must be whole XML, and hold no
// script, no style and nothing that loads from elsewhere.
func TestDrawingsAreWholeAndHoldNothingButShapes(t *testing.T) {
	t.Parallel()
	allowed := "svg g a defs pattern rect path line circle text title desc" // and of attributes, no style and no handler
	for name, svg := range drawings() {
		reader := xml.NewDecoder(strings.NewReader(svg))
		for {
			token, err := reader.Token()
			if errors.Is(err, io.EOF) {
				break
			}
			require.NoError(t, err, name)
			start, ok := token.(xml.StartElement)
			if !ok {
				continue
			}
			require.Contains(t, strings.Fields(allowed), start.Name.Local, name)
			for _, a := range start.Attr {
				require.NotEqual(t, "style", a.Name.Local, name)
				require.False(t, strings.HasPrefix(a.Name.Local, "on"), name)
				if a.Name.Local == "href" {
					require.True(t, strings.HasPrefix(a.Value, "/"), "%s: %s", name, a.Value)
				}
			}
		}
	}
}

func TestAVerdictWithoutLimitsHasNoNumberLine(t *testing.T) {
	t.Parallel()
	require.Empty(t, report.NumberLineSVG(defects.MustDecimal("5"), "index", defects.Verdict{Outcome: defects.NoVerdict}))
	require.Empty(t, report.PlanSVG(nil, nil))
	require.Empty(t, report.CoursedSVG(nil, nil))
}

func TestSpansAreSaidAsPeopleSayThem(t *testing.T) {
	t.Parallel()
	for words, span := range map[string][4]int{
		"all of it": {}, "bay 2": {2, 2, 0, 0}, "bays 1–3, lift 2": {1, 3, 2, 2}, "from lift 2": {0, 0, 2, 0}, "bays 1–3": {0, 3, 0, 0},
	} {
		require.Equal(t, words, report.SpanWords(span[0], span[1], span[2], span[3]))
	}
}
