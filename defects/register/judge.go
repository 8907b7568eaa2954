package register

import (
	"context"
	"slices"
	"strings"
	"sync"
	"time"

	"storeyrod/defects"
	"storeyrod/defects/reference"
)

// judge gives a reading its verdict: the first schedule in force that has a
// limit for it governs, by the site's decision rule.
func (b *bench) judge(rd *defects.Reading) {
	rd.Verdict = defects.JudgeGoverning(b.input(*rd), b.rules, b.site.Rule, b.site.Guard)
	nameSuppliers(&rd.Verdict, rd.Quantity)
}

// input is what a limit sees of a reading, with the U of its instrument.
func (b *bench) input(rd defects.Reading) defects.Input {
	expanded, expired := b.uncertainty(rd)
	return defects.InputOf(rd, expanded, expired)
}

// nameSuppliers says of a quantity without a limit which built-in schedules
// would give one. Nothing is put in force by itself: which tolerance was agreed
// is for the project to say.
func nameSuppliers(v *defects.Verdict, quantity string) {
	if v.Reason != defects.ReasonNoLimit {
		return
	}
	if names := suppliers()[quantity]; len(names) > 0 {
		v.ReasonText += "; built-in schedules with a limit for it: " + strings.Join(names, ", ")
	}
}

// suppliers are the names of the built-in schedules by quantity, gathered once:
// they do not change while the program runs.
var suppliers = sync.OnceValue(func() map[string][]string {
	by := map[string][]string{}
	for _, s := range reference.Schedules() {
		for _, l := range s.Limits {
			if !slices.Contains(by[l.Quantity], s.Name) {
				by[l.Quantity] = append(by[l.Quantity], s.Name)
			}
		}
	}
	return by
})

// uncertainty is what the instrument gives for a reading on the day it was
// taken in the site's zone. An instrument that works in another unit, such as
// the thermometer of a combined logger, gives no U but can still be expired.
func (b *bench) uncertainty(rd defects.Reading) (expanded *defects.Decimal, expired bool) {
	_, u := toolOf(rd, b.tools, b.zone)
	if u == nil {
		return nil, false
	}
	return u.Expanded(), u.Expired
}

// toolOf is the instrument of a reading with what was known of it on the day, nil
// when none is stated. One that works in another unit adds no uncertainty.
func toolOf(rd defects.Reading, tools []defects.Instrument, zone *time.Location) (*defects.Instrument, *defects.Uncertainty) {
	at := slices.IndexFunc(tools, func(t defects.Instrument) bool { return t.ID == rd.InstrumentID })
	if rd.InstrumentID == "" || at < 0 {
		return nil, nil
	}
	tool := &tools[at]
	u := defects.UncertaintyOf(*tool, rd.MeasuredAt.In(zone).Format(dateFmt))
	if tool.Unit != "" && tool.Unit != rd.Unit {
		u = defects.Uncertainty{Expired: u.Expired}
		return tool, &u
	}
	u = u.OfMean(rd.Observations)
	return tool, &u
}

// judgeSet gives a set its verdict from the readings that stand, in the order
// they were taken.
func (b *bench) judgeSet(set defects.Set, readings []defects.Reading) defects.SetVerdict {
	in := b.setInput(set, readings)
	var first *defects.SetVerdict
	for _, limits := range b.rules {
		v := defects.JudgeSet(in, limits, b.site.Rule, b.site.Guard)
		if v.Verdict.Reason != defects.ReasonNoLimit {
			return v
		}
		if first == nil {
			first = &v
		}
	}
	if first == nil {
		first = &defects.SetVerdict{Verdict: defects.JudgeGoverning(in.Input, nil, b.site.Rule, b.site.Guard)}
	}
	if slices.ContainsFunc(b.rules, func(l *defects.Limits) bool { return l.Has(set.Quantity) }) {
		first.Verdict = defects.JudgedSingly(first.Verdict)
		return *first
	}
	nameSuppliers(&first.Verdict, set.Quantity)
	return *first
}

// setInput gathers what is common to a set. A fact that the readings do not
// share is left out, so that a limit that needs it says so; the largest U
// counts, and one instrument out of calibration makes the set void.
func (b *bench) setInput(set defects.Set, readings []defects.Reading) defects.SetInput {
	q, _ := defects.QuantityByName(set.Quantity)
	in := defects.SetInput{Input: defects.Input{Quantity: q.Name, Unit: q.Unit, Zone: set.Place.Zone, Stage: set.Stage}}
	allKnown := true
	for i, rd := range readings {
		one := b.input(rd)
		in.Values, in.Ends = append(in.Values, rd.Value), append(in.Ends, rd.FailurePlane)
		if one.CalibrationExpired {
			in.CalibrationExpired = true
			in.Expired++
		}
		allKnown = allKnown && one.Expanded != nil
		if one.Expanded != nil && (in.Expanded == nil || in.Expanded.Less(*one.Expanded)) {
			in.Expanded = one.Expanded
		}
		if i == 0 {
			in.BaseLength, in.Nominal, in.Area = one.BaseLength, one.Nominal, one.Area
			in.Courses, in.FailurePlane, in.Mode = one.Courses, one.FailurePlane, one.Mode
			continue
		}
		in.BaseLength, in.Nominal, in.Area = shared(in.BaseLength, one.BaseLength), shared(in.Nominal, one.Nominal), shared(in.Area, one.Area)
		in.Courses, in.FailurePlane, in.Mode = sharedWord(in.Courses, one.Courses), sharedWord(in.FailurePlane, one.FailurePlane), sharedWord(in.Mode, one.Mode)
	}
	if !allKnown {
		in.Expanded = nil
	}
	return in
}

func shared(a, b *defects.Decimal) *defects.Decimal {
	if a == nil || b == nil || a.Cmp(*b) != 0 {
		return nil
	}
	return a
}

func sharedWord[T comparable](a, b T) T {
	if a != b {
		var none T
		return none
	}
	return a
}

// standingReading loads a reading that is to change, seen in a version.
func standingReading(ctx context.Context, tx Tx, siteID, id string, version int) (defects.Reading, error) {
	rd, err := tx.Readings().Reading(ctx, siteID, id)
	if err != nil {
		return rd, err
	}
	if err := checkVersion(version, rd.Version, "reading"); err != nil {
		return rd, err
	}
	if rd.Withdrawn != "" {
		return rd, defects.Refuse(defects.Conflict, "reading_withdrawn", "the reading was withdrawn: "+rd.Withdrawn)
	}
	return rd, nil
}

// neededReason is the text without which nothing in the register is taken back
// or decided anew.
func neededReason(reason string) (string, error) {
	reason, err := cleanNote("reason", reason)
	if err == nil && reason == "" {
		err = defects.RefuseField(defects.Invalid, "reason", "reason_missing", "say why; it stays in the record")
	}
	return reason, err
}
