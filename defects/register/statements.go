package register

import (
	"context"
	"fmt"

	"storeyrod/defects"
)

// mostAnchors bounds the anchors of one area; ours.
const mostAnchors = 1_000_000

// StateForSet notes what the designer states for a pull-out or proof set, with
// where it is taken from. It replaces what was noted before, which stays in the
// log. No verdict changes by it.
func (r *Register) StateForSet(ctx context.Context, a Actor, siteID, setID string, version int, st defects.Statement) (defects.Set, error) {
	var set defects.Set
	err := r.Store.Write(ctx, func(tx Tx) error {
		m, err := r.permit(ctx, tx, a, siteID, defects.AddReading)
		if err != nil {
			return err
		}
		if set, _, _, err = seenSet(ctx, tx, m, siteID, setID); err != nil {
			return err
		}
		if err := checkVersion(version, set.Version, "set"); err != nil {
			return err
		}
		if st.Source, err = cleanText("source", st.Source, maxName); err != nil {
			return err
		}
		if err := checkStatement(set.Quantity, st); err != nil {
			return err
		}
		st.By, st.At = person(a, m), r.Now()
		set.Stated = st
		if err := tx.Readings().SaveSet(ctx, set); err != nil {
			return err
		}
		set.Version++
		return r.note(ctx, tx, a, m, siteID, setEvent("set.state", set))
	})
	if err != nil {
		return defects.Set{}, err
	}
	return set, nil
}

func checkStatement(quantity string, st defects.Statement) error {
	if st.Source == "" {
		return defects.RefuseField(defects.Invalid, "source", "source_missing", "name the designer's drawing, letter or calculation that states it")
	}
	switch quantity {
	case "pull_out_load":
		return checkZones(st)
	case "proof_load":
		switch {
		case st.Anchors < 1 || st.Anchors > mostAnchors:
			return defects.RefuseField(defects.Invalid, "anchors", "bad_number", fmt.Sprintf("an area has 1 to %d anchors", mostAnchors))
		case st.Action != nil && st.Action.Sign() <= 0:
			return defects.RefuseField(defects.Invalid, "action", "bad_number", "the characteristic action must be above 0")
		}
		return nil
	}
	return defects.RefuseField(defects.Invalid, "set", "other_quantity", "only sets of pull-out and proof tests rest on what a designer states")
}

func checkZones(st defects.Statement) error {
	if len(st.Zones) == 0 {
		return defects.RefuseField(defects.Invalid, "suction_edge", "suction_missing", "state the designer's suction on at least one zone")
	}
	seen := map[defects.Zone]bool{}
	for _, z := range st.Zones {
		switch {
		case z.Zone == "" || !defects.KnownZone(z.Zone) || seen[z.Zone]:
			return defects.RefuseField(defects.Invalid, "zone", "unknown_zone", "each of field, edge and ground at most once")
		case z.Suction.Sign() <= 0:
			return defects.RefuseField(defects.Invalid, "suction_"+string(z.Zone), "suction_missing", "state the designer's suction on the zone, above 0")
		case z.Ordered.Sign() < 0:
			return defects.RefuseField(defects.Invalid, "ordered_"+string(z.Zone), "bad_number", "an ordered pattern cannot be below 0")
		}
		seen[z.Zone] = true
	}
	if st.GammaQ == nil || st.GammaQ.Sign() <= 0 {
		return defects.RefuseField(defects.Invalid, "gamma_q", "bad_value", "the partial factor must be above 0")
	}
	return nil
}

// statementData is a statement as the log keeps it.
type statementData struct {
	Source  string     `json:"source"`
	GammaQ  string     `json:"gamma_q,omitempty"`
	Zones   []zoneData `json:"zones,omitempty"`
	Anchors int        `json:"anchors,omitempty"`
	Action  string     `json:"action_kN,omitempty"`
	By      string     `json:"by"`
	ByName  string     `json:"by_name"`
	At      string     `json:"at"`
}

type zoneData struct {
	Zone    string `json:"zone"`
	Suction string `json:"suction_kN_m2"`
	Ordered string `json:"ordered_per_m2"`
}

func statementOf(st defects.Statement) *statementData {
	if st.None() {
		return nil
	}
	d := statementData{
		Source: st.Source, GammaQ: decimalText(st.GammaQ), Anchors: st.Anchors, Action: decimalText(st.Action),
		By: st.By.ID, ByName: st.By.Name, At: stamp(st.At),
	}
	for _, z := range st.Zones {
		d.Zones = append(d.Zones, zoneData{string(z.Zone), z.Suction.String(), z.Ordered.String()})
	}
	return &d
}
