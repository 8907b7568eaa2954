package server

import (
	"cmp"
	"context"
	"math"
	"strconv"
	"strings"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

// FixingSpan is a strip of an elevation with the pattern ordered there.
type FixingSpan struct {
	Zone  string `json:"zone"`
	From  Exact  `json:"from_m"`
	To    Exact  `json:"to_m"`
	PerM2 Exact  `json:"per_m2"`
}

// FixingZone gathers the boards that one zone governs.
type FixingZone struct {
	Zone   string   `json:"zone"`
	PerM2  Exact    `json:"per_m2"`
	Boards int      `json:"boards"`
	Short  int      `json:"short" doc:"boards with too few"`
	Least  *float64 `json:"least_per_m2,omitempty" doc:"smallest density counted"`
}

// FixingBoard is one board with its verdict.
type FixingBoard struct {
	Reading string  `json:"reading_id,omitempty" doc:"absent for one that was asked about and is not stored"`
	Left    Exact   `json:"left_m"`
	Width   Exact   `json:"width_m"`
	Height  Exact   `json:"height_m"`
	Counted int     `json:"counted"`
	Zone    string  `json:"zone,omitempty" doc:"whose pattern governs: the larger number where a board crosses a zone line"`
	Across  bool    `json:"across_zones"`
	Needed  int     `json:"needed"`
	Short   int     `json:"short"`
	Density float64 `json:"counted_per_m2"`
	Outcome string  `json:"outcome"`
	Code    string  `json:"code,omitempty" doc:"defect of the catalogue that it shows"`
	Text    string  `json:"text,omitempty"`
}

func fixingBoardOf(l register.FixingLine) FixingBoard {
	v := l.Verdict
	out := FixingBoard{
		Left: mmText(l.Left), Width: mmText(l.Width), Height: mmText(l.Height), Counted: l.Counted, Zone: string(v.Zone), Across: l.Across,
		Needed: v.Needed, Short: v.Short, Density: math.Round(v.Density*100) / 100, Outcome: string(v.Outcome), Code: l.Code, Text: v.Text,
	}
	if l.Reading != nil {
		out.Reading = l.Reading.ID
	}
	return out
}

func fixingZoneOf(z defects.ZoneCount) FixingZone {
	out := FixingZone{Zone: string(z.Zone), PerM2: exactText(z.PerM2), Boards: z.Boards, Short: z.Short}
	if z.Boards > 0 {
		least := math.Round(z.Least*100) / 100
		out.Least = &least
	}
	return out
}

// Usual sizes of a board and of an edge zone (common practice, no source), for
// what a request leaves out.
const (
	usualBoardWidth  = "1.2"
	usualBoardHeight = "0.6"
	usualEdgeWidth   = "1"
)

type fixingsIn struct {
	SiteIn
	Elevation string   `path:"elevation"`
	EdgeWidth string   `query:"edge_width_m" doc:"width of the edge zone at either end; 1 when absent"`
	Edge      string   `query:"edge" doc:"anchors per m² ordered in the edge zone; that of the project's limits when absent or lower"`
	Field     string   `query:"field" doc:"likewise between"`
	Width     string   `query:"board_width_m" doc:"of the boards whose counts are stored; 1.2 when absent"`
	Height    string   `query:"board_height_m" doc:"likewise; 0.6 when absent. An area noted with the count goes before it"`
	Boards    []string `query:"board,explode" doc:"a board to be judged without storing it: left edge, width, height in metres and the count, with colons between"`
}

func (in *fixingsIn) get(name string) string {
	return map[string]string{
		"edge_width_m": in.EdgeWidth, "edge": in.Edge, "field": in.Field, "board_width_m": in.Width, "board_height_m": in.Height,
	}[name]
}

type fixingsOut struct {
	Body struct {
		Elevation string        `json:"elevation_id"`
		Ordered   []Ordered     `json:"ordered" doc:"patterns that the project's limits in force order"`
		Spans     []FixingSpan  `json:"spans"`
		Zones     []FixingZone  `json:"zones"`
		Boards    []FixingBoard `json:"boards"`
		Unplaced  int           `json:"unplaced" doc:"stored counts that lie in no zone, since their position along the wall is not noted"`
		Caution   string        `json:"caution"`
	}
}

const fixingCaution = "The pattern is the designer's; this compares a count with it. A competent structural designer decides on anchor, number and zones."

// fixingAsk reads what counts are held against, alike for page and REST.
func fixingAsk(elevation string, get func(string) string) (register.FixingAsk, error) {
	ask := register.FixingAsk{ElevationID: elevation}
	for _, l := range []struct {
		name, usual string
		to          *defects.MM
	}{{"edge_width_m", usualEdgeWidth, &ask.EdgeWidth}, {"board_width_m", usualBoardWidth, &ask.Width}, {"board_height_m", usualBoardHeight, &ask.Height}} {
		mm, err := Exact(cmp.Or(get(l.name), l.usual)).mm(l.name)
		if err != nil {
			return ask, atField(err, l.name)
		}
		*l.to = *mm
	}
	for _, p := range []struct {
		name string
		to   *defects.Decimal
	}{{"edge", &ask.Edge}, {"field", &ask.Field}} {
		d, err := defects.ParseDecimal(cmp.Or(get(p.name), "0"))
		if err != nil {
			return ask, atField(err, p.name)
		}
		*p.to = d
	}
	return ask, nil
}

// boardOf reads "0.4:1.2:0.6:6".
func boardOf(text string) (b defects.BoardCount, err error) {
	parts := strings.Split(text, ":")
	if len(parts) != 4 {
		return b, defects.RefuseField(defects.Invalid, "board", "bad_board", "write left edge, width, height and count with colons between, such as 0.4:1.2:0.6:6")
	}
	for i, to := range []*defects.MM{&b.Left, &b.Width, &b.Height} {
		mm, err := Exact(cmp.Or(parts[i], "?")).mm("board")
		if err != nil {
			return b, err
		}
		*to = *mm
	}
	if b.Counted, err = strconv.Atoi(parts[3]); err != nil {
		return b, defects.RefuseField(defects.Invalid, "board", "bad_number", "the count must be a whole number")
	}
	return b, nil
}

func (a *api) getFixings(ctx context.Context, in *fixingsIn) (*fixingsOut, error) {
	ask, err := fixingAsk(in.Elevation, in.get)
	if err != nil {
		return nil, err
	}
	for _, text := range in.Boards {
		b, err := boardOf(text)
		if err != nil {
			return nil, err
		}
		ask.Boards = append(ask.Boards, b)
	}
	s, err := a.s.reg.FixingSheet(ctx, actorFrom(ctx), in.Site, ask)
	if err != nil {
		return nil, err
	}
	out := &fixingsOut{}
	b := &out.Body
	b.Elevation, b.Ordered, b.Unplaced, b.Caution = s.Elevation.ID, each(s.Ordered, orderedOf), s.Unplaced, fixingCaution
	b.Spans = each(s.Spans, func(f defects.FixingSpan) FixingSpan {
		return FixingSpan{Zone: string(f.Zone), From: mmText(f.From), To: mmText(f.To), PerM2: exactText(f.PerM2)}
	})
	b.Zones, b.Boards = each(s.Zones, fixingZoneOf), each(s.Lines, fixingBoardOf)
	return out, nil
}
