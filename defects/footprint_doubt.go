package defects

import "fmt"

// WrongWayRings names the rings that run the other way round than RFC 7946,
// section 3.1.6, asks for (from memory). They are taken all the same.
func WrongWayRings(b Building) []string {
	var doubts []string
	if len(b.Ring) == 0 {
		return nil
	}
	for i, ring := range RingsIn(b, NewFrame(middle(b.Ring))) {
		if (signedArea(ring) > 0) != (i == 0) {
			doubts = append(doubts, ringWords(i)+" runs the other way round than GeoJSON asks for; it is taken as it is and its edges are counted as given")
		}
	}
	return doubts
}

// FootprintDoubts says that an outline, which is taken all the same, lies far from
// everything else that is known of the site: the middles of its other outlines and
// the positions of its photos.
func FootprintDoubts(b Building, buildings, photos []LonLat) []string {
	if len(b.Ring) == 0 {
		return nil
	}
	var doubts []string
	for _, known := range []struct {
		places []LonLat
		words  string
	}{{buildings, "of the site's other buildings"}, {photos, "of the site's photos"}} {
		if km, far := farFrom(middle(b.Ring), known.places); far {
			doubts = append(doubts, fmt.Sprintf("lies %.0f km from the nearest %s; are its coordinates right?", km, known.words))
		}
	}
	return doubts
}

func ringWords(i int) string {
	if i == 0 {
		return "the outline"
	}
	return fmt.Sprintf("courtyard %d", i)
}

// farFrom gives the distance to the nearest of several places when all of them are
// further away than a site's plane holds.
func farFrom(at LonLat, places []LonLat) (km float64, far bool) {
	nearest := -1.0
	for _, p := range places {
		if nearby(at, p) {
			return 0, false
		}
		m, _, ok := Geodesic(at, p)
		if !ok { // nearly antipodal
			m = 20_000_000
		}
		if nearest < 0 || m < nearest {
			nearest = m
		}
	}
	return nearest / 1000, nearest >= 0
}

// Middle is the middle of an outline's bounding box; the outline has corners.
func Middle(ring []LonLat) LonLat { return middle(ring) }
