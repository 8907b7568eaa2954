package register

import (
	"context"
	"slices"
	"strings"

	"storeyrod/defects"
)

const maxCalibrations = 200 // of one instrument

// NewInstrument is what an instrument is made from.
type NewInstrument struct {
	Name       string
	Kind       string
	Serial     string
	Unit       string
	Resolution *defects.Decimal // in Unit; nil = unknown
	Expanded   *defects.Decimal // U (k = 2) in Unit; nil = unknown
	Repeats    Repeats
}

// AddInstrument adds a tool to a site. A name the site has already answers
// Conflict "name_taken".
func (r *Register) AddInstrument(ctx context.Context, a Actor, siteID string, n NewInstrument) (defects.Instrument, error) {
	tool, err := n.instrument()
	if err != nil {
		return tool, err
	}
	tool.ID, tool.SiteID = r.NewID(), siteID
	err = r.Store.Write(ctx, func(tx Tx) error {
		m, err := r.permit(ctx, tx, a, siteID, defects.AddInstrument)
		if err != nil {
			return err
		}
		all, err := tx.Tools().Instruments(ctx, siteID)
		if err != nil {
			return err
		}
		if slices.ContainsFunc(all, func(o defects.Instrument) bool { return sameName(o.Name, tool.Name) }) {
			return defects.RefuseField(defects.Conflict, "name", "name_taken", "the site has another instrument of this name")
		}
		if err := tx.Tools().InsertInstrument(ctx, tool); err != nil {
			return err
		}
		return r.note(ctx, tx, a, m, siteID, change{
			kind: "instrument.add", typ: "instrument", id: tool.ID, data: instrumentEvent(nil, &tool),
		})
	})
	if err != nil {
		return defects.Instrument{}, err
	}
	return tool, nil
}

func (n NewInstrument) instrument() (defects.Instrument, error) {
	tool := defects.Instrument{Resolution: n.Resolution, Expanded: n.Expanded, Version: 1}
	var err error
	if tool.Name, err = cleanName("name", n.Name); err != nil {
		return tool, err
	}
	for _, f := range []struct {
		field, in string
		out       *string
	}{{"kind", n.Kind, &tool.Kind}, {"serial", n.Serial, &tool.Serial}, {"unit", n.Unit, &tool.Unit}} {
		if *f.out, err = cleanText(f.field, f.in, maxName); err != nil {
			return tool, err
		}
	}
	if err := notNegative("resolution", n.Resolution); err != nil {
		return tool, err
	}
	if err := notNegative("expanded", n.Expanded); err != nil {
		return tool, err
	}
	if err := n.Repeats.put(&tool); err != nil {
		return tool, err
	}
	if tool.Unit == "" && (n.Resolution != nil || n.Expanded != nil || tool.Repeats > 0) {
		return tool, defects.RefuseField(defects.Invalid, "unit", "unit_needed", "say in which unit the resolution and the uncertainty are")
	}
	return tool, nil
}

func notNegative(field string, d *defects.Decimal) error {
	if d != nil && d.Sign() < 0 {
		return defects.RefuseField(defects.Invalid, field, "negative", "must not be negative")
	}
	return nil
}

// AddCalibration adds a certificate. Readings judged before keep their verdict.
func (r *Register) AddCalibration(ctx context.Context, a Actor, siteID, instrumentID string, version int, c defects.Calibration) (defects.Instrument, error) {
	c, err := cleanCalibration(c)
	if err != nil {
		return defects.Instrument{}, err
	}
	return r.changeInstrument(ctx, a, siteID, instrumentID, version, "instrument.calibrate", func(before defects.Instrument) (defects.Instrument, error) {
		return calibrated(before, c)
	})
}

// changeInstrument stores what by makes of an instrument that was seen in a
// version, and logs it under kind.
func (r *Register) changeInstrument(ctx context.Context, a Actor, siteID, id string, version int, kind string,
	by func(defects.Instrument) (defects.Instrument, error),
) (defects.Instrument, error) {
	var after defects.Instrument
	err := r.Store.Write(ctx, func(tx Tx) error {
		m, err := r.permit(ctx, tx, a, siteID, defects.AddInstrument)
		if err != nil {
			return err
		}
		before, err := tx.Tools().Instrument(ctx, siteID, id)
		if err != nil {
			return err
		}
		if err := checkVersion(version, before.Version, "instrument"); err != nil {
			return err
		}
		if after, err = by(before); err != nil {
			return err
		}
		if err := tx.Tools().UpdateInstrument(ctx, after); err != nil {
			return err
		}
		after.Version++
		return r.note(ctx, tx, a, m, siteID, change{kind: kind, typ: "instrument", id: id, data: instrumentEvent(&before, &after)})
	})
	if err != nil {
		return defects.Instrument{}, err
	}
	return after, nil
}

// calibrated is the instrument with one certificate more, the newest first.
func calibrated(i defects.Instrument, c defects.Calibration) (defects.Instrument, error) {
	same := func(o defects.Calibration) bool { return o.Certificate == c.Certificate && o.On == c.On }
	if slices.ContainsFunc(i.Calibrations, same) {
		return i, defects.RefuseField(defects.Conflict, "certificate", "calibration_known", "the instrument has this certificate already")
	}
	if len(i.Calibrations) >= maxCalibrations {
		return i, defects.RefuseField(defects.TooLarge, "certificate", "too_many", "the instrument has too many certificates")
	}
	i.Calibrations = append(slices.Clone(i.Calibrations), c)
	slices.SortStableFunc(i.Calibrations, func(x, y defects.Calibration) int { return strings.Compare(y.On, x.On) })
	return i, nil
}

func cleanCalibration(c defects.Calibration) (defects.Calibration, error) {
	var err error
	if c.Certificate, err = cleanName("certificate", c.Certificate); err != nil {
		return c, err
	}
	if c.On == "" || c.Due == "" {
		return c, defects.RefuseField(defects.Invalid, "due", "bad_date", "the days of calibration and of the last validity are needed")
	}
	if err := checkDate("on", c.On); err != nil {
		return c, err
	}
	if err := checkDate("due", c.Due); err != nil {
		return c, err
	}
	if c.Due < c.On {
		return c, defects.RefuseField(defects.Invalid, "due", "due_before_on", "the last valid day is before the day of calibration")
	}
	if c.K != nil && (c.K.Sign() <= 0 || c.Expanded == nil) {
		return c, defects.RefuseField(defects.Invalid, "k", "bad_factor", "a coverage factor is above 0 and belongs to a U")
	}
	return c, notNegative("expanded", c.Expanded)
}

// Instruments lists a site's tools.
func (r *Register) Instruments(ctx context.Context, a Actor, siteID string) ([]defects.Instrument, error) {
	return look(ctx, r, a, siteID, func(tx Tx) ([]defects.Instrument, error) { return tx.Tools().Instruments(ctx, siteID) })
}
