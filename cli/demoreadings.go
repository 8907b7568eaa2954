package cli

import (
	"context"
	"fmt"
	"time"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

// spread is a series of ordinary readings on one wall: values around a mean as
// tradespeople measure them, a few each day.
type spread struct {
	in   register.ReadingInput // all but value, place and time
	by   string
	mean float64
	sd   float64
	step float64 // what the instrument shows
	n    int
	day  int
}

const readingsADay = 8

// plan spreads the series over its days.
func (d *demo) spread(s spread) {
	for first := 0; first < s.n; first += readingsADay {
		count := min(readingsADay, s.n-first)
		at := d.calendar.at(s.day+first/readingsADay, 8.5+8*d.rng.Float64())
		batch := make([]register.ReadingInput, count)
		for i := range batch {
			batch[i] = s.in
			batch[i].Row = i + 1
			batch[i].Value = s.value(d.rng.NormFloat64())
			batch[i].MeasuredAt = at.Add(time.Duration(i-count) * 3 * time.Minute).Format(time.RFC3339)
			d.somewhere(&batch[i])
		}
		d.on(at, "readings of "+s.in.Quantity, func(ctx context.Context) error { return d.addReadings(ctx, s.by, batch) })
	}
}

// value is mean and spread, rounded to what the instrument shows.
func (s spread) value(normal float64) string {
	v, _ := defects.DecimalFromFloat(s.mean+s.sd*normal, 4)
	step, _ := defects.DecimalFromFloat(s.step, 4)
	steps := v.Nano() / step.Nano()
	places := step.Places()
	for places > 0 && step.Round(places-1).Cmp(step) == 0 {
		places--
	}
	q, _ := defects.QuantityByName(s.in.Quantity)
	out := defects.DecimalFromNano(steps*step.Nano(), 9)
	if out.Less(q.PlausibleMin) {
		out = q.PlausibleMin
	}
	return out.Round(places).String()
}

// somewhere puts a reading on its wall.
func (d *demo) somewhere(in *register.ReadingInput) {
	w, ok := d.walls[in.ElevationID]
	if !ok {
		return // of the site, such as the weather
	}
	x := defects.MM(300 + d.rng.Int64N(int64(w.Length)-600))
	z := defects.MM(200 + d.rng.Int64N(int64(w.Height)-400))
	in.X, in.Z = x.Metres().String(), z.Metres().String()
}

func (d *demo) addReadings(ctx context.Context, by string, batch []register.ReadingInput) error {
	results, err := d.reg.AddReadings(ctx, d.people[by], d.site, batch)
	if err != nil {
		return err
	}
	for i, r := range results {
		if r.Err != nil {
			return fmt.Errorf("%s %s: %w", batch[i].Quantity, batch[i].Value, r.Err)
		}
	}
	return nil
}

// of starts a reading of a quantity on a wall at a stage.
func of(quantity, unit, stage, wallName, tool string) register.ReadingInput {
	return register.ReadingInput{Quantity: quantity, Unit: unit, Stage: stage, ElevationID: wallName, InstrumentID: tool, Gang: gangLarch}
}

func over(in register.ReadingInput, metres string) register.ReadingInput {
	in.BaseLength = metres
	return in
}

func inZone(in register.ReadingInput, zone defects.Zone) register.ReadingInput {
	in.Zone = string(zone)
	return in
}

func against(in register.ReadingInput, nominal string) register.ReadingInput {
	in.Nominal = nominal
	return in
}

func courses(in register.ReadingInput, n int) register.ReadingInput {
	in.Courses = n
	return in
}

func byGang(in register.ReadingInput, gang string) register.ReadingInput {
	in.Gang = gang
	return in
}

// anchorSet is a set of pull-out tests.
type anchorSet struct {
	name, substrate, wall, tool string
	day                         int
	loads                       []string
}

// anchorSets are one that holds, one that is a test short, and one made with a
// tester out of calibration. The loads are invented.
func anchorSets() []anchorSet {
	return []anchorSet{
		{"Larkrow south, solid brick", "solid brick", larkSouth, toolPullGood, 2, []string{
			"1.42", "1.18", "1.05", "1.33", "0.97", "1.51", "1.26", "1.12", "0.99", "1.37", "1.20", "1.08", "1.45", "1.02", "1.29",
		}},
		{"Harebell south, solid brick", "solid brick", hareSouth, toolPullGood, 6, []string{
			"1.21", "0.94", "1.10", "1.32", "1.01", "1.17", "0.89", "1.25", "1.06", "1.14", "0.98", "1.30", "1.03", "1.19",
		}},
		{"Quillon south, hollow block", "hollow block", quillSouth, toolPullOver, 9, []string{
			"0.92", "1.04", "0.88", "1.15", "0.97", "1.09", "0.85", "1.01", "0.93", "1.12", "0.90", "1.07", "0.96", "1.03", "0.99",
		}},
	}
}

func (d *demo) testAnchors(s anchorSet) {
	at := d.calendar.at(s.day, 10)
	var id string
	d.on(at, "set "+s.name, func(ctx context.Context) error {
		w, err := d.wall(s.wall)
		if err != nil {
			return err
		}
		set, err := d.reg.CreateSet(ctx, d.people["designer"], d.site, register.NewSet{
			Quantity: "pull_out_load", Name: s.name, Substrate: s.substrate, Stage: "SV", Place: defects.Place{ElevationID: w.ID},
		})
		id = set.ID
		return err
	})
	batch := make([]register.ReadingInput, len(s.loads))
	for i, load := range s.loads {
		batch[i] = of("pull_out_load", "kN", "SV", s.wall, s.tool)
		batch[i].Row, batch[i].Value, batch[i].FailurePlane = i+1, load, string(defects.EndPulledOut)
		d.somewhere(&batch[i])
	}
	d.on(at.Add(3*time.Hour), "tests of "+s.name, func(ctx context.Context) error {
		for i := range batch {
			batch[i].SetID = id
		}
		if err := d.addReadings(ctx, "clerk", batch); err != nil || s.wall != larkSouth {
			return err
		}
		gamma := defects.MustDecimal("1.5")
		return d.state(ctx, id, defects.Statement{Source: "drawing S-12 (invented)", GammaQ: &gamma, Zones: []defects.ZoneAction{
			{Zone: defects.Edge, Suction: defects.MustDecimal("1.65"), Ordered: defects.MustDecimal("8")},
			{Zone: defects.Field, Suction: defects.MustDecimal("0.95"), Ordered: defects.MustDecimal("6")},
		}})
	})
}
