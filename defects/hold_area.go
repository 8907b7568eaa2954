package defects

import "fmt"

// Area is a part of an elevation by bays and lifts. Zero bays or lifts mean all
// of them; an empty elevation means the whole site.
type Area struct {
	ElevationID      string
	BayFrom, BayTo   int
	LiftFrom, LiftTo int
}

func (a Area) holds(p Place) bool {
	if a.ElevationID != "" && a.ElevationID != p.ElevationID {
		return false
	}
	return spanHolds(a.BayFrom, a.BayTo, p.Bay) && spanHolds(a.LiftFrom, a.LiftTo, p.Lift)
}

func spanHolds(from, to, n int) bool {
	if n == 0 {
		return true
	}
	from, to = span(from, to)
	return from <= n && n <= to
}

// span gives the ends of a range in which 0 means open.
func span(from, to int) (int, int) {
	if to == 0 {
		to = 1 << 30
	}
	return from, to
}

// meets reports whether two areas have a place in common.
func (a Area) meets(b Area) bool {
	if a.ElevationID != "" && b.ElevationID != "" && a.ElevationID != b.ElevationID {
		return false
	}
	return spansMeet(a.BayFrom, a.BayTo, b.BayFrom, b.BayTo) && spansMeet(a.LiftFrom, a.LiftTo, b.LiftFrom, b.LiftTo)
}

func spansMeet(a1, a2, b1, b2 int) bool {
	a1, a2 = span(a1, a2)
	b1, b2 = span(b1, b2)
	return a1 <= b2 && b1 <= a2
}

// common is the part two meeting areas share.
func (a Area) common(b Area) Area {
	c := Area{ElevationID: a.ElevationID}
	if c.ElevationID == "" {
		c.ElevationID = b.ElevationID
	}
	c.BayFrom, c.BayTo = max(a.BayFrom, b.BayFrom), lesser(a.BayTo, b.BayTo)
	c.LiftFrom, c.LiftTo = max(a.LiftFrom, b.LiftFrom), lesser(a.LiftTo, b.LiftTo)
	return c
}

// lesser is the lower end of two, where 0 is open.
func lesser(a, b int) int {
	if a == 0 || b == 0 {
		return max(a, b)
	}
	return min(a, b)
}

// contains reports whether all of b lies in a.
func (a Area) contains(b Area) bool {
	if a.ElevationID != "" && a.ElevationID != b.ElevationID {
		return false
	}
	return spanContains(a.BayFrom, a.BayTo, b.BayFrom, b.BayTo) && spanContains(a.LiftFrom, a.LiftTo, b.LiftFrom, b.LiftTo)
}

func spanContains(a1, a2, b1, b2 int) bool {
	_, a2 = span(a1, a2)
	_, b2 = span(b1, b2)
	return a1 <= max(b1, 1) && b2 <= a2
}

func (a Area) words() string {
	text := ""
	for _, s := range []struct {
		name     string
		from, to int
	}{{"bay", a.BayFrom, a.BayTo}, {"lift", a.LiftFrom, a.LiftTo}} {
		switch {
		case s.from == 0 && s.to == 0:
		case s.to == 0:
			text += fmt.Sprintf(", from %s %d", s.name, s.from)
		case s.from == s.to:
			text += fmt.Sprintf(", %s %d", s.name, s.from)
		default:
			text += fmt.Sprintf(", %ss %d–%d", s.name, max(s.from, 1), s.to)
		}
	}
	return text
}
