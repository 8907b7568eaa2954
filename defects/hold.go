package defects

import (
	"fmt"
	"slices"
	"strings"
)

// HoldFacts is what the answer to a hold point rests on. Snags and readings of
// other areas may be in it; they do not count.
type HoldFacts struct {
	Snags    []Snag
	Readings []Reading // at least those that failed, are conditional or are tests without a verdict, and stand
	Releases []Release // of the site, in any order
	Points   []HoldPoint
	Stages   []Stage
}

// HoldReasons lists what stands in the way of releasing a hold point for an
// area, snags first; none means that it may be released. Only HoldPoint, area,
// Outcome and Text of r are read: conditions that name an open major snag by
// its number ("SN-0112") let it through, and conditions let a conditional pass
// through. Codes: open_critical, open_major, weather_untested, failed_reading,
// conditional_reading, unjudged_reading, earlier_point_refused.
func HoldReasons(r Release, f HoldFacts) []Detail {
	point, _ := holdPoint(f.Points, r.HoldPoint)
	reasons := snagReasons(r, f)
	reasons = append(reasons, readingReasons(r, point, f.Readings)...)
	return append(reasons, earlierRefused(r, point, f)...)
}

func holdPoint(points []HoldPoint, code string) (HoldPoint, bool) {
	i := slices.IndexFunc(points, func(h HoldPoint) bool { return h.Code == code })
	if i < 0 {
		return HoldPoint{Code: code}, false
	}
	return points[i], true
}

func (r Release) area() Area {
	return Area{ElevationID: r.ElevationID, BayFrom: r.BayFrom, BayTo: r.BayTo, LiftFrom: r.LiftFrom, LiftTo: r.LiftTo}
}

// Covers reports whether a release is for a place.
func (r Release) Covers(p Place) bool { return r.area().holds(p) }

func snagReasons(r Release, f HoldFacts) []Detail {
	var out []Detail
	for _, s := range f.Snags {
		if !s.State.Open() || !r.Covers(s.Place) {
			continue
		}
		if untested := weatherUntested(r, s, f.Readings); untested.Code != "" {
			out = append(out, untested)
		}
		switch {
		case s.Severity == Critical:
			out = append(out, Detail{Field: s.Ref(), Code: "open_critical", Text: fmt.Sprintf(
				"%s, critical, is %s: %s %s at %s", s.Ref(), s.State, s.Code, s.Title, s.PlaceWords)})
		case s.Severity == Major && !listed(r, s):
			out = append(out, Detail{Field: s.Ref(), Code: "open_major", Text: fmt.Sprintf(
				"%s, major, is %s: %s %s at %s; release with conditions that list it, or close it first",
				s.Ref(), s.State, s.Code, s.Title, s.PlaceWords)})
		}
	}
	return out
}

// weatherUntested is of work done in bad weather: conditions alone do not let it
// through, a pull-off that passed since and in that place does.
func weatherUntested(r Release, s Snag, readings []Reading) Detail {
	if s.Code != KindForFailure("air_temperature", s.Stage) {
		return Detail{}
	}
	if slices.ContainsFunc(readings, func(rd Reading) bool {
		return rd.Quantity == "bond_strength" && rd.Withdrawn == "" && rd.Verdict.Outcome == Pass &&
			rd.MeasuredAt.After(s.RaisedAt) && r.Covers(rd.Place) && SamePlace(s.Place, rd.Place)
	}) {
		return Detail{}
	}
	return Detail{Field: s.Ref(), Code: "weather_untested", Text: fmt.Sprintf(
		"%s, %s %s at %s: no scratch or pull-off result since; enter a bond strength that passes there, or close the snag with the scratch test",
		s.Ref(), s.Code, s.Title, s.PlaceWords)}
}

// listed reports whether the conditions of a release name a snag. The number
// must stand alone: SN-01120 does not name SN-0112.
func listed(r Release, s Snag) bool {
	if r.Outcome != ReleasedConditions {
		return false
	}
	text, ref := strings.ToUpper(r.Text), strings.ToUpper(s.Ref())
	for rest := text; ; {
		i := strings.Index(rest, ref)
		if i < 0 {
			return false
		}
		rest = rest[i+len(ref):]
		if rest == "" || rest[0] < '0' || rest[0] > '9' {
			return true
		}
	}
}

// readingReasons lists the readings of the area, up to the point's stages, that
// failed without a snag to answer them, and those that are conditional and were
// not answered by a later pass at the same place.
func readingReasons(r Release, point HoldPoint, readings []Reading) []Detail {
	last := lastStage(point)
	var out []Detail
	for _, rd := range readings {
		if rd.Withdrawn != "" || rd.SnagNumber != 0 || !r.Covers(rd.Place) {
			continue
		}
		if last > 0 && StageOrder(rd.Stage) > last {
			continue
		}
		what := rd.Quantity + " " + ReadingWords(rd)
		switch rd.Verdict.Outcome {
		case Fail:
			out = append(out, Detail{Field: rd.ID, Code: "failed_reading", Text: what + " failed and no snag answers it"})
		case NoVerdict:
			if why := halfTested(rd); why.Code != "" {
				out = append(out, Detail{Field: rd.ID, Code: why.Code, Text: what + " " + why.Text})
			}
		case ConditionalFail, ConditionalPass:
			allowed := rd.Verdict.Outcome == ConditionalPass && r.Outcome == ReleasedConditions
			if !allowed && !passedLater(rd, readings) {
				out = append(out, Detail{Field: rd.ID, Code: "conditional_reading", Text: what + " is a " +
					string(rd.Verdict.Outcome) + "; measure again with a better instrument or together"})
			}
		}
	}
	return out
}

// halfTested is of tests whose value is only half of the result: a pull-off
// without its failure plane, and a proof test without a limit in which the anchor
// did not hold.
func halfTested(rd Reading) Detail {
	switch {
	case rd.Quantity == "bond_strength" && rd.FailurePlane == "":
		return Detail{Code: "unjudged_reading", Text: "has no verdict, since what tore is not named; withdraw it and enter it whole, or test again"}
	case rd.Quantity == "proof_load" && ProofFailed(rd):
		return Detail{Code: "failed_reading", Text: "did not hold and no snag answers it"}
	}
	return Detail{}
}

func passedLater(r Reading, readings []Reading) bool {
	return slices.ContainsFunc(readings, func(o Reading) bool {
		return o.Quantity == r.Quantity && o.Withdrawn == "" && o.Verdict.Outcome == Pass &&
			o.MeasuredAt.After(r.MeasuredAt) && SamePlace(r.Place, o.Place)
	})
}

// lastStage is the order of the latest stage that must be right for a point; 0
// when it names none.
func lastStage(point HoldPoint) int {
	last := 0
	for _, code := range point.Stages {
		last = max(last, StageOrder(code))
	}
	return last
}

// earlierRefused lists the points of earlier stages that were refused for a part
// of the area and not released since for all of that part.
func earlierRefused(r Release, point HoldPoint, f HoldFacts) []Detail {
	var out []Detail
	for _, p := range f.Points {
		if p.Code == point.Code || lastStage(p) == 0 || lastStage(p) >= lastStage(point) {
			continue
		}
		if no, ok := standingRefusal(p.Code, r.area(), f.Releases); ok {
			out = append(out, Detail{Field: p.Code, Code: "earlier_point_refused", Text: fmt.Sprintf(
				"%s %s was refused on %s%s and has not been released since", p.Code, p.Name,
				no.At.UTC().Format(dayForm), no.area().words())})
		}
	}
	return out
}

// standingRefusal finds a refusal of a point in an area that no later answer
// has lifted. Several later answers that each lift a part do not add up.
func standingRefusal(code string, area Area, releases []Release) (Release, bool) {
	for _, no := range releases {
		if no.HoldPoint != code || no.Outcome != ReleaseRefused || !no.area().meets(area) {
			continue
		}
		part := no.area().common(area)
		lifted := slices.ContainsFunc(releases, func(yes Release) bool {
			return yes.HoldPoint == code && yes.Outcome != ReleaseRefused && yes.At.After(no.At) && yes.area().contains(part)
		})
		if !lifted {
			return no, true
		}
	}
	return Release{}, false
}

// CheckRelease refuses an answer to a hold point that is no proper answer:
// codes unknown_hold_point, unknown_outcome, bad_area, reason_missing,
// conditions_missing, own_work. Whether the point is ready is for HoldReasons.
// Who made good a snag in the area may not release it.
func CheckRelease(r Release, f HoldFacts) error {
	if _, ok := holdPoint(f.Points, r.HoldPoint); !ok {
		return RefuseField(Invalid, "hold_point", "unknown_hold_point", "there is no hold point "+quoted(r.HoldPoint))
	}
	if r.ElevationID == "" {
		return RefuseField(Invalid, "elevation", "bad_area", "a hold point is answered for an area of one elevation")
	}
	if badSpan(r.BayFrom, r.BayTo) || badSpan(r.LiftFrom, r.LiftTo) {
		return RefuseField(Invalid, "area", "bad_area", "bays and lifts run from the lower number to the higher one")
	}
	blank := strings.TrimSpace(r.Text) == ""
	switch r.Outcome {
	case Released, LapsedAfterNotice:
	case ReleasedConditions:
		if blank {
			return RefuseField(Invalid, "text", "conditions_missing", "state the conditions")
		}
	case ReleaseRefused:
		if blank {
			return RefuseField(Invalid, "text", "reason_missing", "say why it is refused")
		}
	default:
		return RefuseField(Invalid, "outcome", "unknown_outcome", "must be "+orList([]ReleaseOutcome{
			Released, ReleasedConditions, ReleaseRefused, LapsedAfterNotice,
		}))
	}
	for _, s := range f.Snags {
		if r.Covers(s.Place) && madeGood(s, r.By) {
			return Refuse(Forbidden, "own_work", r.By.Name+" made "+s.Ref()+
				" good in this area and may not answer its hold points; this is for: another clerk")
		}
	}
	return nil
}

func badSpan(from, to int) bool { return from < 0 || to < 0 || (to != 0 && from > to) }
