package register

import (
	"context"
	"fmt"
	"slices"

	"storeyrod/defects"
)

// SetMilestone adds a planned date (empty ID) or changes one (ID and the
// Version seen).
func (r *Register) SetMilestone(ctx context.Context, a Actor, m defects.Milestone) (defects.Milestone, error) {
	added := m.ID == ""
	if added {
		m.ID, m.Version = r.NewID(), 0
	}
	err := r.Store.Write(ctx, func(tx Tx) error {
		by, err := r.permit(ctx, tx, a, m.SiteID, defects.EditSite)
		if err != nil {
			return err
		}
		if err := checkMilestone(ctx, tx, m); err != nil {
			return err
		}
		var before *defects.Milestone
		if !added {
			if before, err = milestone(ctx, tx, m.SiteID, m.ID); err != nil {
				return err
			}
			if err := checkVersion(m.Version, before.Version, "milestone"); err != nil {
				return err
			}
		}
		if err := tx.Sites().SaveMilestone(ctx, m); err != nil {
			return err
		}
		after := m
		after.Version++
		return r.note(ctx, tx, a, by, m.SiteID, change{
			kind: "milestone.set", typ: "milestone", id: m.ID, data: milestoneEvent(before, &after),
		})
	})
	if err != nil {
		return defects.Milestone{}, err
	}
	m.Version++
	return m, nil
}

// DeleteMilestone takes a planned date away; the log keeps it.
func (r *Register) DeleteMilestone(ctx context.Context, a Actor, siteID, id string) error {
	return r.DeleteMilestoneAt(ctx, a, siteID, id, 0)
}

// DeleteMilestoneAt does so only at the version that was seen, else Stale; 0
// takes it at any.
func (r *Register) DeleteMilestoneAt(ctx context.Context, a Actor, siteID, id string, version int) error {
	return r.Store.Write(ctx, func(tx Tx) error {
		by, err := r.permit(ctx, tx, a, siteID, defects.EditSite)
		if err != nil {
			return err
		}
		before, err := milestone(ctx, tx, siteID, id)
		if err != nil {
			return err
		}
		if version != 0 && before.Version != version {
			return defects.Refuse(defects.Stale, "", "somebody else changed this milestone in the meantime; load it again")
		}
		if err := tx.Sites().DeleteMilestone(ctx, siteID, id); err != nil {
			return err
		}
		return r.note(ctx, tx, a, by, siteID, change{
			kind: "milestone.delete", typ: "milestone", id: id, data: milestoneEvent(before, nil),
		})
	})
}

// Milestones lists a site's planned dates.
func (r *Register) Milestones(ctx context.Context, a Actor, siteID string) ([]defects.Milestone, error) {
	return look(ctx, r, a, siteID, func(tx Tx) ([]defects.Milestone, error) { return tx.Sites().Milestones(ctx, siteID) })
}

func milestone(ctx context.Context, tx Tx, siteID, id string) (*defects.Milestone, error) {
	all, err := tx.Sites().Milestones(ctx, siteID)
	if err != nil {
		return nil, err
	}
	i := slices.IndexFunc(all, func(m defects.Milestone) bool { return m.ID == id })
	if i < 0 {
		return nil, defects.RefuseField(defects.NotFound, "milestone", "milestone_not_found", "the site has no such milestone")
	}
	return &all[i], nil
}

// checkMilestone looks at kind, date, and the part of a wall it names.
func checkMilestone(ctx context.Context, tx Tx, m defects.Milestone) error {
	switch m.Kind {
	case defects.CoverUp:
		if m.Stage == "" || !defects.KnownStage(m.Stage) {
			return defects.RefuseField(defects.Invalid, "stage", "unknown_stage", "a cover-up names the stage that starts, such as BM")
		}
	case defects.Strike, defects.Completion:
		if m.Stage != "" {
			return defects.RefuseField(defects.Invalid, "stage", "stage_not_used", "only a cover-up has a stage")
		}
	default:
		return defects.RefuseField(defects.Invalid, "kind", "unknown_kind", "must be cover-up, strike or completion")
	}
	if m.On == "" {
		return defects.RefuseField(defects.Invalid, "on", "bad_date", "is needed; write it as 2026-03-31")
	}
	if err := checkDate("on", m.On); err != nil {
		return err
	}
	if m.ElevationID == "" {
		if m.BayFrom != 0 || m.BayTo != 0 || m.LiftFrom != 0 || m.LiftTo != 0 {
			return defects.RefuseField(defects.Invalid, "elevation", "elevation_needed", "bays and lifts are those of an elevation; name it")
		}
		return nil
	}
	e, err := tx.Walls().Elevation(ctx, m.SiteID, m.ElevationID)
	if err != nil {
		return err
	}
	if err := checkSpan("bay", m.BayFrom, m.BayTo, len(e.Bays)); err != nil {
		return err
	}
	return checkSpan("lift", m.LiftFrom, m.LiftTo, len(e.Lifts))
}

// checkSpan takes 0 to 0 as all of them.
func checkSpan(what string, from, to, of int) error {
	if from == 0 && to == 0 {
		return nil
	}
	if from < 1 || to < from || to > of {
		return defects.RefuseField(defects.Invalid, what+"_from", "no_such_"+what,
			fmt.Sprintf("%ss %d to %d are not on the elevation; it has %d", what, from, to, of))
	}
	return nil
}
