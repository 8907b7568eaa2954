package register

import (
	"context"
	"fmt"

	"storeyrod/defects"
	"storeyrod/defects/statistics"
)

const (
	maxRepeats    = 1000
	spreadPlaces  = 6 // of a standard deviation worked out from values
	repeatsNeeded = "give at least 2 repeats of one measurement, or their standard deviation and how many there were"
)

// Repeats tells how far single repeats of one measurement spread: the values
// themselves, or their standard deviation with their number.
type Repeats struct {
	Values []defects.Decimal
	S      *defects.Decimal
	N      int
}

func (p Repeats) none() bool { return len(p.Values) == 0 && p.S == nil && p.N == 0 }

// put states the repeats for an instrument; none leave it as it is.
func (p Repeats) put(tool *defects.Instrument) error {
	if p.none() {
		return nil
	}
	s, n := p.S, p.N
	if len(p.Values) > 0 {
		if s != nil || n != 0 {
			return defects.RefuseField(defects.Invalid, "values", "repeats_twice", "give the values or their standard deviation, not both")
		}
		sum, err := statistics.Summarise(p.Values)
		if err != nil {
			return err
		}
		spread, ok := defects.DecimalFromFloat(sum.S, spreadPlaces)
		if !ok {
			return defects.RefuseField(defects.Invalid, "values", "bad_number", "these values are too large")
		}
		s, n = &spread, sum.N
	}
	switch {
	case s == nil || n < 2:
		return defects.RefuseField(defects.Invalid, "repeats", "repeats_missing", repeatsNeeded)
	case n > maxRepeats:
		return defects.RefuseField(defects.TooLarge, "repeats", "too_many", fmt.Sprintf("at most %d repeats", maxRepeats))
	}
	tool.Repeatability, tool.Repeats = s, n
	return notNegative("repeatability", s)
}

// StateRepeats states or replaces how far single repeats with an instrument
// spread. Readings judged before keep their verdict.
func (r *Register) StateRepeats(ctx context.Context, a Actor, siteID, instrumentID string, version int, p Repeats) (defects.Instrument, error) {
	return r.changeInstrument(ctx, a, siteID, instrumentID, version, "instrument.repeat", func(tool defects.Instrument) (defects.Instrument, error) {
		switch {
		case p.none():
			return tool, defects.RefuseField(defects.Invalid, "values", "repeats_missing", repeatsNeeded)
		case tool.Unit == "":
			return tool, defects.RefuseField(defects.Invalid, "unit", "unit_needed", "the instrument states no unit, so nobody knows what the repeats are in")
		}
		err := p.put(&tool)
		return tool, err
	})
}
