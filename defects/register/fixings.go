package register

import (
	"context"
	"fmt"
	"slices"

	"storeyrod/defects"
)

// FixingAsk is what fixing counts on an elevation are held against. A pattern
// that is 0, or lower than what the project's limits order, is that of the
// limits.
type FixingAsk struct {
	ElevationID   string
	EdgeWidth     defects.MM
	Edge, Field   defects.Decimal // ordered, per m²
	Width, Height defects.MM      // of the boards whose counts are stored
	Boards        []defects.BoardCount
}

// FixingLine is one board with its verdict.
type FixingLine struct {
	defects.BoardCount
	Verdict defects.FixingVerdict
	Across  bool             // it lies in more than one zone
	Code    string           // defect it shows when short
	Reading *defects.Reading // nil = asked about and not stored
}

// FixingSheet is an elevation's fixing counts by zone and board by board.
type FixingSheet struct {
	Elevation   defects.Elevation
	Ordered     []defects.Ordered // by the project's own limits
	Edge, Field defects.Decimal   // what was used
	Spans       []defects.FixingSpan
	Zones       []defects.ZoneCount
	Lines       []FixingLine
	Unplaced    int // stored counts that lie in no zone, since their position along the wall is not noted
}

// FixingSheet holds fixing counts against the ordered pattern. A stored count
// of fixing_count_board is taken to be of a board whose left edge lies at its x.
func (r *Register) FixingSheet(ctx context.Context, a Actor, siteID string, ask FixingAsk) (FixingSheet, error) {
	var s FixingSheet
	if ask.Width <= 0 || ask.Height <= 0 {
		return s, defects.RefuseField(defects.Invalid, "board", "bad_value", "a board needs a width and a height above 0")
	}
	err := r.Store.Read(ctx, func(tx Tx) error {
		m, err := r.permit(ctx, tx, a, siteID, defects.ViewSite)
		if err != nil {
			return err
		}
		b, err := r.bench(ctx, tx, a, m, siteID, nil)
		if err != nil {
			return err
		}
		s = FixingSheet{}
		if s.Elevation, err = tx.Walls().Elevation(ctx, siteID, ask.ElevationID); err != nil {
			return err
		}
		if err := s.pattern(b, ask); err != nil {
			return err
		}
		for _, board := range ask.Boards {
			if err := s.add(board, nil); err != nil {
				return err
			}
		}
		f := ReadingFilter{SiteID: siteID, ElevationID: s.Elevation.ID, Quantity: "fixing_count_board"}
		if !forceGang(m, &f.Gang) {
			return nil
		}
		counts, err := tx.Readings().ListReadings(ctx, f, Page{Limit: maxSetReadings})
		if err != nil {
			return err
		}
		s.stored(standing(counts), ask)
		return nil
	})
	if err != nil {
		return FixingSheet{}, err
	}
	var verdicts []defects.FixingVerdict
	for _, l := range s.Lines {
		verdicts = append(verdicts, l.Verdict)
	}
	s.Zones = defects.CountsByZone(s.Spans, verdicts)
	return s, nil
}

// pattern settles the spans of the wall.
func (s *FixingSheet) pattern(b *bench, ask FixingAsk) (err error) {
	s.Edge, s.Field = ask.Edge, ask.Field
	for _, z := range []struct {
		zone defects.Zone
		to   *defects.Decimal
	}{{defects.Edge, &s.Edge}, {defects.Field, &s.Field}} {
		if o, ok := defects.OrderedPattern(b.rules, z.zone); ok {
			s.Ordered = append(s.Ordered, o)
			if z.to.Less(o.PerM2) {
				*z.to = o.PerM2
			}
		}
		if z.to.Sign() <= 0 {
			return defects.RefuseField(defects.Invalid, string(z.zone), "ordered_missing",
				fmt.Sprintf("state the pattern that the designer ordered in the %s zone, above 0", z.zone))
		}
	}
	s.Spans, err = defects.EdgeSpans(s.Elevation.Length, ask.EdgeWidth, s.Edge, s.Field)
	return err
}

func (s *FixingSheet) stored(counts []defects.Reading, ask FixingAsk) {
	for _, rd := range slices.Backward(counts) { // the oldest first
		if rd.Place.X == nil {
			s.Unplaced++
			continue
		}
		board := defects.BoardCount{
			Left: *rd.Place.X, Width: ask.Width, Height: ask.Height, Counted: int(rd.Value.Nano() / defects.DecimalOf(1).Nano()),
		}
		if rd.Area != nil { // the area that was noted goes before the usual height
			board.Height = defects.MM(rd.Area.Nano() / (1000 * int64(ask.Width)))
		}
		if err := s.add(board, &rd); err != nil {
			s.Unplaced++ // a count that was confirmed though it can be of no board
		}
	}
}

func (s *FixingSheet) add(board defects.BoardCount, rd *defects.Reading) error {
	v, err := defects.JudgeFixings(board, s.Spans)
	if err != nil {
		return err
	}
	line := FixingLine{BoardCount: board, Verdict: v, Across: defects.AcrossZones(board, s.Spans), Reading: rd}
	if v.Outcome == defects.Fail {
		line.Code = defects.KindForReading(defects.Reading{Quantity: "fixing_count_board", Stage: "FX", Place: defects.Place{Zone: v.Zone}})
	}
	s.Lines = append(s.Lines, line)
	return nil
}
