package defects

import "time"

// Statement is what a designer states for a test set, since no reading says it. A
// nil or zero part is not stated.
type Statement struct {
	Source  string       // the drawing, letter or calculation it is taken from
	GammaQ  *Decimal     // pull_out_load: partial factor on the wind
	Zones   []ZoneAction // pull_out_load: suction and ordered pattern by zone; 0 ordered = that of the limits
	Anchors int          // proof_load: in the area
	Action  *Decimal     // proof_load: characteristic action on one anchor, kN
	By      Person       // who noted it
	At      time.Time
}

// None reports that nothing was stated.
func (s Statement) None() bool { return s.At.IsZero() }
