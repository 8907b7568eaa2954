package defects

// Ordered is the designer's pattern in one zone, as a limit of the project's own
// states it.
type Ordered struct {
	Zone   Zone
	PerM2  Decimal
	Source Verdict // schedule, title, edition and clause; no outcome
}

// OrderedPattern finds the anchors per square metre ordered in a zone: a least
// fixing_density, or a density of fixing_count_board, the larger of the two, in
// the first of the schedules that has one. Only lines agreed for the project
// order anything; a published or usual least number is none. The bool is false
// when nothing is ordered.
func OrderedPattern(schedules []*Limits, zone Zone) (Ordered, bool) {
	for _, l := range schedules {
		found, any := Ordered{Zone: zone}, false
		for _, quantity := range []string{"fixing_density", "fixing_count_board"} {
			q := l.by[quantity]
			if q == nil {
				continue
			}
			c, _ := pick(q.single, &Input{Zone: zone, Stage: "FX"})
			if c == nil || c.limit.Basis != Project {
				continue
			}
			perM2 := c.limit.PerArea
			if quantity == "fixing_density" && c.limit.Kind == FixedLimit {
				perM2 = c.limit.Lower
			}
			if positive(perM2) && (!any || found.PerM2.Less(*perM2)) {
				found.PerM2, found.Source, any = *perM2, c.verdict, true
			}
		}
		if any {
			return found, true
		}
	}
	return Ordered{}, false
}
