package defects

import "time"

// WeatherLine is one stored line of a site's weather log. Nobody edits it; a
// wrong one is withdrawn.
type WeatherLine struct {
	ID          string
	SiteID      string
	ElevationID string // where the surface was taken; "" = of the site
	At          time.Time
	Air         *Decimal // °C; nil = not taken
	Surface     *Decimal // °C, of the wall
	Humidity    *Decimal // relative, %
	Note        string   // rain, wind, protection
	Confirmed   bool     // implausible, and said to be right

	InstrumentID string
	Instrument   string // name, copied for lists
	ByID         string
	ByName       string
	EnteredBy    string
	EnteredName  string
	EnteredAt    time.Time
	Withdrawn    string // reason; "" = stands
	Version      int
}

// Figures are the quantities of a line that were taken, with their values.
func (w WeatherLine) Figures() map[string]Decimal {
	out := map[string]Decimal{}
	for quantity, d := range map[string]*Decimal{
		"air_temperature": w.Air, "surface_temperature": w.Surface, "relative_humidity": w.Humidity,
	} {
		if d != nil {
			out[quantity] = *d
		}
	}
	return out
}

// SameWeather reports whether two lines say the same: the same figures, at one
// time and place, by one person with one instrument.
func SameWeather(a, b WeatherLine) bool {
	x, y := a.Figures(), b.Figures()
	if len(x) != len(y) || !a.At.Equal(b.At) || a.ElevationID != b.ElevationID || a.ByID != b.ByID || a.InstrumentID != b.InstrumentID {
		return false
	}
	for quantity, d := range x {
		other, ok := y[quantity]
		if !ok || d.Cmp(other) != 0 {
			return false
		}
	}
	return true
}
