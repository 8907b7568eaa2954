package defects

import (
	"fmt"
	"slices"
)

// FixingSpan is a vertical strip of an elevation with the designer's ordered
// pattern, from and to measured along it from its left end.
type FixingSpan struct {
	Zone     Zone
	From, To MM
	PerM2    Decimal
}

// EdgeSpans cuts an elevation into its two edge strips and the field between.
// Where the strips meet there is no field. A width below 0 or a length of 0 is
// refused.
func EdgeSpans(length, edgeWidth MM, edge, field Decimal) ([]FixingSpan, error) {
	if length <= 0 || edgeWidth < 0 {
		return nil, RefuseField(Invalid, "elevation", "bad_value", "an elevation and its edge zone need lengths")
	}
	if 2*edgeWidth >= length {
		return []FixingSpan{{Edge, 0, length, edge}}, nil
	}
	spans := []FixingSpan{
		{Edge, 0, edgeWidth, edge},
		{Field, edgeWidth, length - edgeWidth, field},
		{Edge, length - edgeWidth, length, edge},
	}
	if edgeWidth == 0 {
		spans = spans[1:2]
	}
	return spans, nil
}

// BoardCount is the fixings counted on one board, whose left edge lies at Left.
type BoardCount struct {
	Left, Width, Height MM
	Counted             int
}

// FixingVerdict says how many fixings a board needs and how many it has. An
// ordered pattern is a designer's; this is arithmetic only.
type FixingVerdict struct {
	Outcome Outcome
	Zone    Zone // whose pattern governs
	PerM2   Decimal
	Needed  int
	Short   int
	Density float64 // counted, per m²
	Text    string
}

// FixingsOnBoard is the number of fixings for a board at a pattern per square
// metre, rounded up: 0.72 m² at 8 per m² needs 6.
func FixingsOnBoard(width, height MM, perM2 Decimal) int {
	area := int64(width) * int64(height) * 1000 // billionths of a square metre
	return int(mulDivCeil(area, perM2.nano, nanosPerUnit*nanosPerUnit))
}

// JudgeFixings holds a count against the pattern of the zone the board lies in;
// on a zone line the larger number governs. A board outside every span has no
// verdict and the reason in Text.
func JudgeFixings(b BoardCount, spans []FixingSpan) (FixingVerdict, error) {
	if b.Width <= 0 || b.Height <= 0 || b.Width > maxElevationLength || b.Height > maxElevationHeight || b.Counted < 0 {
		return FixingVerdict{}, RefuseField(Invalid, "board", "bad_value", "a board needs a width and a height, and a count of 0 or more")
	}
	v := FixingVerdict{Outcome: NoVerdict, Text: reasonText(ReasonZoneMissing)}
	for _, s := range spans {
		if s.PerM2.Sign() <= 0 {
			return FixingVerdict{}, RefuseField(Invalid, "spans", "bad_value", "an ordered pattern must be above 0 per square metre")
		}
		if b.Left >= s.To || b.Left+b.Width <= s.From {
			continue
		}
		if n := FixingsOnBoard(b.Width, b.Height, s.PerM2); n > v.Needed {
			v.Needed, v.Zone, v.PerM2 = n, s.Zone, s.PerM2
		}
	}
	if v.Needed == 0 {
		return v, nil
	}
	v.Density = float64(b.Counted) / (float64(b.Width) * float64(b.Height) / 1e6)
	v.Short = max(0, v.Needed-b.Counted)
	v.Outcome, v.Text = Pass, ""
	if v.Short > 0 {
		v.Outcome = Fail
		v.Text = fmt.Sprintf("short by %d: %d of %d, %.1f/m2 against %s in the %s zone",
			v.Short, b.Counted, v.Needed, v.Density, v.PerM2, v.Zone)
	}
	return v, nil
}

// ZoneAction is the designer's suction on one zone, in kN/m² and above 0, with
// the pattern ordered there.
type ZoneAction struct {
	Zone    Zone
	Suction Decimal
	Ordered Decimal // per m²
}

// ZoneAnchors is the number of anchors per square metre a zone needs.
type ZoneAnchors struct {
	Zone      Zone
	ByLoad    int // ⌈γ_Q · suction / N_Rd⌉, by anchor resistance alone
	PerM2     Decimal
	Governing string // "load" or "ordered pattern"
}

// AnchorsByZone works out anchors per square metre from the design resistance in
// kN: never fewer than the designer ordered, since pull-through of the board and
// the assessment's own minimum are not in it. A competent structural designer
// decides; this is arithmetic only.
func AnchorsByZone(actions []ZoneAction, nrd, gammaQ Decimal) ([]ZoneAnchors, error) {
	if nrd.Sign() <= 0 || gammaQ.Sign() <= 0 {
		return nil, RefuseField(Invalid, "resistance", "bad_value", "the design resistance and the partial factor must be above 0")
	}
	out := make([]ZoneAnchors, len(actions))
	for i, a := range actions {
		if a.Suction.Sign() <= 0 || a.Ordered.Sign() <= 0 {
			return nil, RefuseField(Invalid, fmt.Sprintf("actions[%d]", i), "bad_value", "a zone needs its suction and the ordered pattern, both above 0")
		}
		n := mulDivCeil(a.Suction.Mul(gammaQ).nano, 1, nrd.nano)
		out[i] = ZoneAnchors{Zone: a.Zone, ByLoad: int(n), PerM2: a.Ordered, Governing: "ordered pattern"}
		if load := DecimalOf(min(n, maxWhole)); a.Ordered.Less(load) {
			out[i].PerM2, out[i].Governing = load, "load"
		}
	}
	return out, nil
}

// ZoneCount is the boards of one zone that were counted. A board across a zone
// line is counted where the larger number is asked.
type ZoneCount struct {
	Zone   Zone
	PerM2  Decimal
	Boards int
	Short  int     // boards with too few
	Least  float64 // smallest density counted, per m²
}

// CountsByZone gathers the verdicts of boards by the zone that governs each, in
// the order of the spans, also of a zone in which nothing was counted.
func CountsByZone(spans []FixingSpan, boards []FixingVerdict) []ZoneCount {
	var out []ZoneCount
	for _, s := range spans {
		if slices.ContainsFunc(out, func(z ZoneCount) bool { return z.Zone == s.Zone }) {
			continue
		}
		z := ZoneCount{Zone: s.Zone, PerM2: s.PerM2}
		for _, b := range boards {
			if b.Zone != s.Zone || b.Outcome == NoVerdict {
				continue
			}
			if z.Boards == 0 || b.Density < z.Least {
				z.Least = b.Density
			}
			if z.Boards++; b.Short > 0 {
				z.Short++
			}
		}
		out = append(out, z)
	}
	return out
}

// AcrossZones reports a board that lies in more than one zone.
func AcrossZones(b BoardCount, spans []FixingSpan) bool {
	var first Zone
	for _, s := range spans {
		if b.Left >= s.To || b.Left+b.Width <= s.From {
			continue
		}
		if first != "" && first != s.Zone {
			return true
		}
		first = s.Zone
	}
	return false
}
