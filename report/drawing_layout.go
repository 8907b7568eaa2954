package report

import (
	"cmp"
	"slices"

	"storeyrod/defects"
)

// mostInCell is how many snags of one cell are drawn one by one, and of a bay
// and lift unless they would fill less than half of it.
const mostInCell = 3

// snagSpot is one brick of a drawing: a snag, or one that stands for many.
type snagSpot struct {
	snags    []DrawnSnag // one, or all of a bay and lift
	area     snagArea
	cell     cellAt
	x, z     defects.MM // the true place of the one
	up, down bool       // whether the neighbouring cells are free to be tapped
	left     bool
	right    bool
	// whether the brick may be moved that way: all three cells there are free
	moveUp, moveDown, moveLeft, moveRight bool
}

func (p snagSpot) many() bool { return len(p.snags) > 1 }

func (p snagSpot) href(area func(bay, lift int) string) string {
	switch {
	case !p.many():
		return p.snags[0].Href
	case area != nil:
		return area(p.area.bay, p.area.lift)
	}
	return ""
}

// snagArea is a bay and a lift; where a wall has neither, the cell itself.
type snagArea struct {
	bay, lift int
	cell      cellAt
}

type cellAt struct{ col, row int }

// placedSnag is a snag with its true place.
type placedSnag struct {
	DrawnSnag
	x, z defects.MM
	area snagArea
	home cellAt
}

// layOut gives each snag a cell of its own: that of its true place, else one
// beside it. Where a bay and lift holds more than can be told apart, one brick
// stands for all of it. Snags without any place are left out.
func (s *sketch) layOut(e defects.Elevation, list []DrawnSnag) []snagSpot {
	all := s.placed(e, list)
	crowded := s.crowded(e, all)
	for { // each turn either fits or crowds one more area
		spots, full := s.arrange(e, all, crowded)
		if full == nil {
			return withRoom(spots)
		}
		crowded[*full] = true
	}
}

// crowded finds the areas that hold too many snags to be drawn one by one.
func (s *sketch) crowded(e defects.Elevation, all []placedSnag) map[snagArea]bool {
	inCell, inArea := map[cellAt]int{}, map[snagArea]int{}
	for _, p := range all {
		inCell[p.home]++
		inArea[p.area]++
	}
	most := mostInCell
	if n := defects.MM(len(e.Bays) * len(e.Lifts)); n > 0 {
		most = max(most, int(e.Length*e.Height/n/(s.cell.long*s.cell.high)/2))
	}
	out := map[snagArea]bool{}
	for _, p := range all {
		if inCell[p.home] > mostInCell || inArea[p.area] > most {
			out[p.area] = true
		}
	}
	return out
}

func (s *sketch) placed(e defects.Elevation, list []DrawnSnag) []placedSnag {
	var out []placedSnag
	for _, snag := range list {
		x, z, ok := spot(e, snag.Place)
		if !ok {
			continue
		}
		p := placedSnag{DrawnSnag: snag, x: min(max(x, 0), e.Length), z: min(max(z, 0), e.Height), home: s.cell.holding(x, z)}
		p.area = snagArea{bay: snag.Place.Bay, lift: snag.Place.Lift}
		if p.area.bay == 0 {
			p.area.bay = cellNumber(e.Bays, p.x)
		}
		if p.area.lift == 0 {
			p.area.lift = cellNumber(e.Lifts, p.z)
		}
		if p.area.bay == 0 || p.area.lift == 0 {
			p.area.cell = p.home
		}
		out = append(out, p)
	}
	return out
}

// cellNumber is the cell in which a length lies, counted from 1; 0 without cells.
func cellNumber(ends []defects.MM, at defects.MM) int {
	if len(ends) == 0 {
		return 0
	}
	i, _ := slices.BinarySearch(ends, at)
	return min(i, len(ends)-1) + 1
}

// arrange lays out the bricks under a choice of crowded areas; an area in which
// a snag finds no cell comes back as the next to be crowded.
func (s *sketch) arrange(e defects.Elevation, all []placedSnag, crowded map[snagArea]bool) ([]snagSpot, *snagArea) {
	taken := map[cellAt]int{} // to the brick's index
	spots := s.crowds(e, all, crowded, taken)
	var later []placedSnag
	for _, p := range all {
		if crowded[p.area] {
			continue
		}
		if _, ok := taken[p.home]; ok {
			later = append(later, p)
			continue
		}
		taken[p.home] = len(spots)
		spots = append(spots, snagSpot{snags: []DrawnSnag{p.DrawnSnag}, area: p.area, cell: p.home, x: p.x, z: p.z})
	}
	for _, p := range later {
		at, ok := s.beside(p.home, taken)
		if !ok {
			return nil, &p.area
		}
		taken[at] = len(spots)
		spots = append(spots, snagSpot{snags: []DrawnSnag{p.DrawnSnag}, area: p.area, cell: at, x: p.x, z: p.z})
	}
	return spots, nil
}

// crowds makes the bricks of the crowded areas, each in the middle of its own.
// Two areas too narrow for a brick each share one.
func (s *sketch) crowds(e defects.Elevation, all []placedSnag, crowded map[snagArea]bool, taken map[cellAt]int) []snagSpot {
	at := map[snagArea]int{}
	var spots []snagSpot
	for _, p := range all {
		if !crowded[p.area] {
			continue
		}
		i, ok := at[p.area]
		if !ok {
			home := s.areaCell(e, p)
			if i, ok = taken[home]; !ok {
				i = len(spots)
				taken[home] = i
				spots = append(spots, snagSpot{area: p.area, cell: home})
			}
			at[p.area] = i
		}
		spots[i].join(p)
	}
	return spots
}

// join adds a snag; a bay or lift that is not the same for all is left open.
func (p *snagSpot) join(other placedSnag) {
	p.snags = append(p.snags, other.DrawnSnag)
	if other.area.bay != p.area.bay {
		p.area.bay = 0
	}
	if other.area.lift != p.area.lift {
		p.area.lift = 0
	}
	p.x, p.z = other.x, other.z
}

func (s *sketch) areaCell(e defects.Elevation, p placedSnag) cellAt {
	x, known := middleOf(e.Bays, p.area.bay)
	z, level := middleOf(e.Lifts, p.area.lift)
	if !known || !level {
		return p.home
	}
	return s.cell.holding(x, z)
}

// beside is a free cell next to one: to the right, left, above or below.
func (s *sketch) beside(c cellAt, taken map[cellAt]int) (cellAt, bool) {
	for _, n := range []cellAt{{c.col + 1, c.row}, {c.col - 1, c.row}, {c.col, c.row + 1}, {c.col, c.row - 1}} {
		if _, ok := taken[n]; !ok && n.col >= 0 && n.col < s.cell.cols && n.row >= 0 && n.row < s.cell.rows {
			return n, true
		}
	}
	return cellAt{}, false
}

// withRoom marks to which sides each brick may be tapped beyond itself, and puts
// the bricks in reading order, the top row first.
func withRoom(spots []snagSpot) []snagSpot {
	taken := map[cellAt]bool{}
	for _, p := range spots {
		taken[p.cell] = true
	}
	for i := range spots {
		c := spots[i].cell
		free := func(col, row int) bool { return !taken[cellAt{c.col + col, c.row + row}] }
		p := &spots[i]
		p.left, p.right = free(-1, 0), free(1, 0)
		p.moveUp = free(-1, 1) && free(0, 1) && free(1, 1)
		p.moveDown = free(-1, -1) && free(0, -1) && free(1, -1)
		p.moveLeft = free(-1, -1) && free(-1, 0) && free(-1, 1)
		p.moveRight = free(1, -1) && free(1, 0) && free(1, 1)
		// Above and below, what is beside must not be another's either.
		p.up = free(0, 1) && (!p.left || free(-1, 1)) && (!p.right || free(1, 1))
		p.down = free(0, -1) && (!p.left || free(-1, -1)) && (!p.right || free(1, -1))
	}
	slices.SortStableFunc(spots, func(a, b snagSpot) int {
		return cmp.Or(cmp.Compare(b.cell.row, a.cell.row), cmp.Compare(a.cell.col, b.cell.col))
	})
	return spots
}
