package cli

import (
	"context"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

// testSet is a set of tests of one quantity with places of its own. All values
// are invented.
type testSet struct {
	name, substrate string
	in              register.ReadingInput // all but value and what a test says of itself
	day             int
	tests           []register.ReadingInput // value, end or plane, and remark
	stated          defects.Statement       // by the designer
}

// fixingTests plans what tells of the fixings besides the pull-out tests: a bond
// set whose weak tests tore in the insulation and of which one names no plane,
// two areas of proof tests, and boards that were counted.
func (d *demo) fixingTests() {
	bond := of("bond_strength", "N/mm2", "IB", larkSouth, toolBond)
	bond.Dolly = "50 mm round"
	proof := of("proof_load", "kN", "FX", larkSouth, toolPullGood)
	proof.Nominal = "0.60"
	rear := proof
	rear.ElevationID = larkNorth
	torn := func(value, plane string) register.ReadingInput {
		return register.ReadingInput{Value: value, FailurePlane: plane}
	}
	held := torn("0.60", defects.ProofHeld)
	slipped := torn("0.45", string(defects.EndPulledOut))
	slipped.Note = "hole drilled with the hammer on, found too wide"
	action := defects.MustDecimal("0.40")
	for _, s := range []testSet{
		{"Larkrow south, board to wall", "solid brick", bond, 11, []register.ReadingInput{
			torn("0.112", "adhesive/insulation"), torn("0.084", "insulation"), torn("0.121", "insulation"), torn("0.065", "insulation"), torn("0.097", ""),
		}, defects.Statement{}},
		{"Larkrow south, plate anchors", "solid brick", proof, 16, []register.ReadingInput{held, held, held, held, held, held, slipped}, defects.Statement{
			Source: "drawing S-13 (invented)", Anchors: 240, Action: &action,
		}},
		{"Larkrow north, plate anchors", "solid brick", rear, 17, []register.ReadingInput{held, held, held}, defects.Statement{}},
	} {
		d.testSet(s)
	}
	d.countBoards()
}

func (d *demo) testSet(s testSet) {
	at := d.calendar.at(s.day, 13)
	d.on(at, "set "+s.name, func(ctx context.Context) error {
		w, err := d.wall(s.in.ElevationID)
		if err != nil {
			return err
		}
		set, err := d.reg.CreateSet(ctx, d.people["clerk"], d.site, register.NewSet{
			Quantity: s.in.Quantity, Name: s.name, Substrate: s.substrate, Stage: s.in.Stage, Place: defects.Place{ElevationID: w.ID},
		})
		if err != nil {
			return err
		}
		batch := make([]register.ReadingInput, len(s.tests))
		for i, test := range s.tests {
			batch[i] = s.in
			batch[i].Row, batch[i].SetID = i+1, set.ID
			batch[i].Value, batch[i].FailurePlane, batch[i].Note = test.Value, test.FailurePlane, test.Note
			batch[i].X, batch[i].Z = defects.MM(1500+1900*i).Metres().String(), "1.400"
		}
		if err := d.addReadings(ctx, "clerk", batch); err != nil || s.stated.Source == "" {
			return err
		}
		return d.state(ctx, set.ID, s.stated)
	})
}

// state notes what the designer states for a set.
func (d *demo) state(ctx context.Context, id string, st defects.Statement) error {
	set, _, err := d.reg.Set(ctx, d.people["designer"], d.site, id)
	if err != nil {
		return err
	}
	_, err = d.reg.StateForSet(ctx, d.people["designer"], d.site, id, set.Version, st)
	return err
}

// countBoards plans counts on boards of 1.2 by 0.6 m along one wall, by the left
// edge of each: two in the edge zone, one across its line, the rest in the field.
func (d *demo) countBoards() {
	count := of("fixing_count_board", "count", "FX", larkSouth, "")
	count.Area, count.Z = "0.72", "1.400"
	var batch []register.ReadingInput
	for i, b := range []struct{ x, zone, n string }{
		{"0.000", "edge", "6"}, {"0.400", "edge", "5"}, {"0.900", "edge", "6"}, {"6.000", "field", "5"}, {"14.400", "field", "5"}, {"22.800", "field", "6"},
	} {
		one := count
		one.Row, one.X, one.Zone, one.Value = i+1, b.x, b.zone, b.n
		batch = append(batch, one)
	}
	d.on(d.calendar.at(15, 14), "boards counted", func(ctx context.Context) error { return d.addReadings(ctx, "clerk", batch) })
}
