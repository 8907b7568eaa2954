package register

import (
	"context"
	"fmt"

	"storeyrod/defects"
	"storeyrod/defects/statistics"
)

// MaxFigures bounds the readings of one look at statistics.
const MaxFigures = 20_000

// Budget is one reading with the uncertainty it rests on.
type Budget struct {
	Reading    defects.Reading
	Instrument *defects.Instrument // nil when none is stated
	Assessment statistics.Assessment
}

// BudgetOf tells how the uncertainty of a reading comes about, by what is known
// of its instrument now for the day it was measured.
func (r *Register) BudgetOf(ctx context.Context, a Actor, siteID, readingID string) (Budget, error) {
	var out Budget
	err := r.Store.Read(ctx, func(tx Tx) error {
		m, err := r.permit(ctx, tx, a, siteID, defects.ViewSite)
		if err != nil {
			return err
		}
		if out.Reading, err = tx.Readings().Reading(ctx, siteID, readingID); err != nil {
			return err
		}
		if err := mayRead(m, out.Reading); err != nil {
			return err
		}
		site, err := tx.Sites().Site(ctx, siteID)
		if err != nil {
			return err
		}
		zone, err := siteZone(site)
		if err != nil {
			return err
		}
		tools, err := tx.Tools().Instruments(ctx, siteID)
		if err != nil {
			return err
		}
		tool, known := toolOf(out.Reading, tools, zone)
		out.Instrument = tool
		out.Assessment, err = statistics.Assess(out.Reading, known)
		return err
	})
	return out, err
}

// Statistics is what is said of the readings of one quantity, with their figures
// in the order they were taken.
type Statistics struct {
	Quantity defects.Quantity
	Figures  []defects.Figure
	Set      *defects.Set // when one was asked for
	statistics.Analysis
}

// ReadingStatistics works out the statistics of the readings that a filter lets
// through; it must name a quantity. An operative's are his gang's. More than
// MaxFigures readings are refused, so that nothing is left out unseen.
func (r *Register) ReadingStatistics(ctx context.Context, a Actor, f ReadingFilter, w statistics.Wanted) (Statistics, error) {
	var out Statistics
	err := r.Store.Read(ctx, func(tx Tx) error {
		m, err := r.permit(ctx, tx, a, f.SiteID, defects.ViewSite)
		if err != nil {
			return err
		}
		var known bool
		if out.Quantity, known = defects.QuantityByName(f.Quantity); !known {
			return defects.RefuseField(defects.Invalid, "quantity", "unknown_quantity", "choose a quantity")
		}
		if !forceGang(m, &f.Gang) {
			return nil
		}
		if f.SetID != "" {
			set, err := tx.Readings().Set(ctx, f.SiteID, f.SetID)
			if err != nil {
				return err
			}
			out.Set, w.Set = &set, &set
		}
		out.Figures, err = tx.Readings().Figures(ctx, f, MaxFigures+1)
		return err
	})
	if err != nil {
		return out, err
	}
	if len(out.Figures) > MaxFigures {
		return out, defects.Refuse(defects.TooLarge, "too_many_readings",
			fmt.Sprintf("more than %d readings; choose an elevation, a stage, a gang or a span of days", MaxFigures))
	}
	out.Analysis, err = statistics.Analyse(out.Figures, w)
	return out, err
}
