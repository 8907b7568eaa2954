package defects

import "fmt"

// OfferAnew says why a person should look again at where a photo belongs, after
// outlines changed: before and after are what its own data say on the outlines of
// then and now. "" when the change makes no difference. The photo's place is not
// touched.
func OfferAnew(p Photo, before, after Shown) string {
	was, had := before.likeliest()
	now, has := after.likeliest()
	switch {
	case !had && !has:
		return ""
	case !has && p.Place.ElevationID != "":
		return fmt.Sprintf("it shows no wall of the site any more; before, %s had a chance of %.2f", was.Name, was.P)
	case !has:
		return fmt.Sprintf("it may show no wall of the site any more; before, %s had a chance of %.2f", was.Name, was.P)
	case p.Place.ElevationID == "":
		return offerUnplaced(was, now, had, before.threshold)
	case now.ElevationID != p.Place.ElevationID && now.ElevationID != was.ElevationID:
		return fmt.Sprintf("it more likely shows %s (%.2f)", now.Name, now.P)
	}
	then, left := before.Chance(p.Place.ElevationID), after.Chance(p.Place.ElevationID)
	if then >= before.threshold && left < after.threshold {
		return fmt.Sprintf("the chance of the wall it is placed on fell from %.2f to %.2f", then, left)
	}
	return ""
}

// offerUnplaced tells of a photo without a place whose likeliest wall is another
// one now, or has become sure.
func offerUnplaced(was, now FaceGuess, had bool, sure float64) string {
	switch {
	case !had:
		return fmt.Sprintf("it may show %s (%.2f), where no wall was known before", now.Name, now.P)
	case now.ElevationID != was.ElevationID:
		return fmt.Sprintf("it more likely shows %s (%.2f) than %s", now.Name, now.P, was.Name)
	case now.P >= sure && was.P < sure:
		return fmt.Sprintf("the chance of %s rose from %.2f to %.2f", now.Name, was.P, now.P)
	}
	return ""
}

func (s Shown) likeliest() (FaceGuess, bool) {
	if len(s.Guesses) == 0 {
		return FaceGuess{}, false
	}
	return s.Guesses[0], true
}
