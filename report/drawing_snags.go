package report

import (
	"fmt"
	"slices"
	"strings"

	"storeyrod/defects"
)

// mostNumbers is how many snag numbers a brick of many names in its title.
const mostNumbers = 12

// snags draws the snag bricks in three layers: all bricks, then the lines to
// true places, then the numbers, so that nothing hides a number.
func (s *sketch) snags(spots []snagSpot, area func(bay, lift int) string) {
	for _, at := range spots {
		s.snag(at, at.href(area))
	}
	s.b.WriteString(`<g class="snag-marks" aria-hidden="true" pointer-events="none">`)
	for _, at := range spots {
		if !at.many() && !s.holds(at) {
			s.lead(at)
		}
	}
	s.plates(spots)
	for _, at := range spots {
		s.number(at)
	}
	s.b.WriteString("</g>")
}

func (s *sketch) snag(at snagSpot, href string) {
	first := at.snags[0]
	id := fmt.Sprintf("%sbrick-%d", s.layer, first.Number)
	element := "g"
	if href != "" {
		element = "a"
		s.f(`<a href="%s" class="snag" id="%s">`, esc(href), id)
	} else {
		s.f(`<g class="snag" id="%s">`, id)
	}
	s.f(`<title>%s</title>`, esc(spotTitle(at)))
	s.hit(at)
	x, z := s.foot(at)
	severity, fill, high := first.Severity, "url(#"+s.layer+hatches[first.State]+")", s.cell.brick
	class := "snag-brick"
	if at.many() {
		severity, fill, high, class = gravest(at.snags), "#fff", s.cell.high, "snag-brick snag-many"
	}
	heavy := defects.MM(outlines[severity]) * s.cell.brick / 300
	inset := heavy / 2 // the outline stays within the cell
	s.f(`<rect class="%s %s" x="%d" y="%d" width="%d" height="%d" stroke-width="%d" fill="%s"/></%s>`,
		class, severity, x+inset, s.y(z+high)+inset, s.cell.long-heavy, high-heavy, heavy, fill, element)
}

// hit is what can be tapped: the cell, and half of each free one beside it.
func (s *sketch) hit(at snagSpot) {
	x0, z0 := s.cell.origin(at.cell)
	x1, z1 := x0+s.cell.long, z0+s.cell.high
	for _, side := range []struct {
		free bool
		at   *defects.MM
		by   defects.MM
	}{{at.left, &x0, -s.cell.long / 2}, {at.right, &x1, s.cell.long / 2}, {at.down, &z0, -s.cell.high / 2}, {at.up, &z1, s.cell.high / 2}} {
		if side.free {
			*side.at += side.by
		}
	}
	x0, x1 = max(x0, 0), min(x1, max(s.cell.along*defects.MM(s.cell.cols), s.cell.long))
	z0, z1 = max(z0, 0), min(z1, s.height)
	s.f(`<rect class="snag-hit" x="%d" y="%d" width="%d" height="%d" fill="none" pointer-events="all"/>`, x0, s.y(z1), x1-x0, z1-z0)
}

// foot is the left foot of a brick. One that stands for a single snag is moved
// from its cell towards its true place, in the coursing, by less than half a
// cell and only where the cell beside is free, so that two never meet.
func (s *sketch) foot(at snagSpot) (x, z defects.MM) {
	x, z = s.cell.origin(at.cell)
	if at.many() {
		return x, z
	}
	c := s.cell
	x = moved(x, at.x-c.long/2, c.long/2-slipModule, at.moveLeft, at.moveRight, slipModule)
	z = moved(z, at.z-c.brick/2, c.high/2-courseGauge, at.moveDown, at.moveUp, courseGauge)
	return min(max(x, 0), max(c.along*defects.MM(c.cols)-c.long, 0)), min(max(z, 0), max(s.height-c.high, 0))
}

// moved goes from one position towards another in whole steps, by at most so
// much, and only to the sides that are free.
func moved(from, to, most defects.MM, back, on bool, step defects.MM) defects.MM {
	by := min(max(to-from, -max(most, 0)), max(most, 0))
	if (by < 0 && !back) || (by > 0 && !on) {
		return from
	}
	return from + by/step*step
}

// holds reports whether a snag's brick lies on its true place.
func (s *sketch) holds(at snagSpot) bool {
	x, z := s.foot(at)
	return at.x >= x && at.x <= x+s.cell.long && at.z >= z && at.z <= z+s.cell.brick
}

// lead draws the line from a true place to the nearest edge of its brick.
func (s *sketch) lead(at snagSpot) {
	x, z := s.foot(at)
	toX, toZ := min(max(at.x, x), x+s.cell.long), min(max(at.z, z), z+s.cell.brick)
	s.f(`<path class="snag-lead" stroke-width="%d" d="M%d %dL%d %d"/><circle class="snag-place" cx="%d" cy="%d" r="%d"/>`,
		max(s.size/16, 1), at.x, s.y(at.z), toX, s.y(toZ), at.x, s.y(at.z), s.size/8)
}

// plates draws what numbers stand on as one shape, since a browser paints thousands
// one by one in more than a frame.
func (s *sketch) plates(spots []snagSpot) {
	s.b.WriteString(`<path class="snag-plate" d="`)
	for _, at := range spots {
		if at.many() {
			continue
		}
		x, z := s.foot(at)
		high, words := s.cell.high-s.cell.brick, fmt.Sprint(at.snags[0].Number)
		size := s.shrunk(words, high)
		long := min(size*65/100*defects.MM(len(words))+size/2, s.cell.long)
		s.f("M%d %dh%dv%dh%dz", x+s.cell.long/2-long/2, s.y(z+s.cell.high), long, high, -long)
	}
	s.b.WriteString(`"/>`)
}

// number writes the snag's number above its brick, or into a brick of many how
// many there are.
func (s *sketch) number(at snagSpot) {
	x, z := s.foot(at)
	mid, high := x+s.cell.long/2, s.cell.high-s.cell.brick
	words := fmt.Sprint(at.snags[0].Number)
	if at.many() {
		count := fmt.Sprint(len(at.snags))
		s.textOf(s.shrunk(count, s.cell.high/2), "snag-number", mid, s.y(z+s.cell.high*11/20), "middle", count)
		s.textOf(s.shrunk("snags", s.cell.high*2/5), "snag-word", mid, s.y(z+s.cell.high*3/20), "middle", "snags")
		return
	}
	size := s.shrunk(words, high)
	s.textOf(size, "snag-number", mid, s.y(z+s.cell.brick)-high/2+size*36/100, "middle", words)
}

// shrunk is the size at which words fit the cell's length and a height.
func (s *sketch) shrunk(words string, high defects.MM) defects.MM {
	return max(min(s.size, high, s.cell.long*84/(62*defects.MM(len(words)))), 1)
}

func gravest(list []DrawnSnag) defects.Severity {
	for _, severity := range defects.Severities() {
		if slices.ContainsFunc(list, func(s DrawnSnag) bool { return s.Severity == severity }) {
			return severity
		}
	}
	return defects.Minor
}

// spotTitle says what a brick stands for: "SN-0007, major, raised: …", or
// "7 snags in bay 3, lift 2: SN-0001, …".
func spotTitle(at snagSpot) string {
	first := at.snags[0]
	if !at.many() {
		return fmt.Sprintf("%s, %s, %s: %s", defects.SnagRef(first.Number), first.Severity, first.State, first.Title)
	}
	var refs []string
	for _, s := range at.snags[:min(len(at.snags), mostNumbers)] {
		refs = append(refs, defects.SnagRef(s.Number))
	}
	if more := len(at.snags) - len(refs); more > 0 {
		refs = append(refs, fmt.Sprintf("and %d more", more))
	}
	where := ""
	if at.area.bay != 0 || at.area.lift != 0 {
		where = " in " + SpanWords(at.area.bay, at.area.bay, at.area.lift, at.area.lift)
	}
	return fmt.Sprintf("%d snags%s: %s", len(at.snags), where, strings.Join(refs, ", "))
}
