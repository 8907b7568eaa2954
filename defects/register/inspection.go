package register

import (
	"context"
	"fmt"

	"storeyrod/defects"
	"storeyrod/defects/reference"
)

const (
	// maxPlanPhotos bounds the photos that an inspection plan looks through.
	maxPlanPhotos = 20_000
	// planReadings is how many of the newest readings tell which stages are under
	// way.
	planReadings = 2_000
)

// InspectionPlan works out what is still to be photographed and released. It is
// stored nowhere: it follows from photos, readings, answers to hold points and
// planned dates as they are. An operative's rests on what his gang has done.
func (r *Register) InspectionPlan(ctx context.Context, a Actor, siteID string, ask defects.PlanAsk) ([]defects.PlanEntry, error) {
	var plan []defects.PlanEntry
	err := r.Store.Read(ctx, func(tx Tx) error {
		m, err := r.permit(ctx, tx, a, siteID, defects.ViewSite)
		if err != nil {
			return err
		}
		if ask.ElevationID != "" {
			if _, err := tx.Walls().Elevation(ctx, siteID, ask.ElevationID); err != nil {
				return inField(err, "elevation")
			}
		}
		if ask.Stage != "" && !defects.KnownStage(ask.Stage) {
			return defects.RefuseField(defects.Invalid, "stage", "unknown_stage", "the work has no such stage")
		}
		walls, err := tx.Walls().Elevations(ctx, siteID)
		if err != nil {
			return err
		}
		facts, err := r.planFacts(ctx, tx, m, siteID, ask)
		if err != nil {
			return err
		}
		plan = defects.PlanOf(walls, facts, ask)
		return nil
	})
	return plan, err
}

// planFacts loads what a plan is worked out from.
func (r *Register) planFacts(ctx context.Context, tx Tx, m defects.Membership, siteID string, ask defects.PlanAsk) (f defects.PlanFacts, err error) {
	site, err := tx.Sites().Site(ctx, siteID)
	if err != nil {
		return f, err
	}
	dates, err := datesOf(ctx, tx, site, r.Now(), "")
	if err != nil {
		return f, err
	}
	f = defects.PlanFacts{
		Stages: dates.stages, Milestones: dates.milestones, Today: dates.today,
		Photos: reference.RequiredPhotos(), Readings: reference.RequiredReadings(),
	}
	if f.Releases, err = tx.Releases().Releases(ctx, siteID); err != nil {
		return f, err
	}
	gang := ""
	if !forceGang(m, &gang) {
		return f, nil
	}
	photos := PhotoFilter{SiteID: siteID, ElevationID: ask.ElevationID, Stage: ask.Stage, Gang: gang}
	if f.Taken, err = tx.Photos().ListPhotos(ctx, photos, Page{Limit: maxPlanPhotos + 1}); err != nil {
		return f, err
	}
	if len(f.Taken) > maxPlanPhotos {
		return f, defects.Refuse(defects.TooLarge, "too_many_photos",
			fmt.Sprintf("at most %d photos are looked through; ask for one elevation or one stage", maxPlanPhotos))
	}
	readings, err := tx.Readings().ListReadings(ctx, ReadingFilter{SiteID: siteID, ElevationID: ask.ElevationID, Stage: ask.Stage, Gang: gang}, Page{Limit: planReadings})
	for _, rd := range readings {
		if rd.Withdrawn == "" && rd.Stage != "" && rd.Place.ElevationID != "" {
			f.Begun = append(f.Begun, defects.StageAt{ElevationID: rd.Place.ElevationID, Stage: rd.Stage})
		}
	}
	return f, err
}
