package defects

import (
	"cmp"
	"slices"
)

// Locality is where outlines lie: one frame for those near each other, and which
// of them are too far away to be of one site.
type Locality struct {
	Frame Frame
	Far   []bool // by outline
}

// LocalityOf finds the frame of outlines, each by its outer ring, about the one in
// the middle of them all, so that one stray outline does not carry the rest away.
// An empty ring is passed over; ok is false when all are.
func LocalityOf(rings [][]LonLat) (l Locality, ok bool) {
	var middles []LonLat
	for _, ring := range rings {
		if len(ring) > 0 {
			middles = append(middles, middle(ring))
		}
	}
	if len(middles) == 0 {
		return Locality{}, false
	}
	centre := LonLat{Lon: medianOf(middles, func(p LonLat) float64 { return p.Lon }), Lat: medianOf(middles, func(p LonLat) float64 { return p.Lat })}
	l.Far = make([]bool, len(rings))
	var all []LonLat
	for i, ring := range rings {
		if len(ring) == 0 {
			continue
		}
		if l.Far[i] = !nearby(centre, middle(ring)); !l.Far[i] {
			all = append(all, ring...)
		}
	}
	if len(all) == 0 { // outlines all over the world, none in the middle of them
		all = []LonLat{centre}
	}
	l.Frame = NewFrame(middle(all))
	return l, true
}

// medianOf is the lower median.
func medianOf(list []LonLat, of func(LonLat) float64) float64 {
	list = slices.Clone(list)
	slices.SortFunc(list, func(a, b LonLat) int { return cmp.Compare(of(a), of(b)) })
	return of(list[(len(list)-1)/2])
}
