package server

import (
	"context"
	"errors"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

// Area is a stretch of an elevation; zero bays or lifts mean all of them.
type Area struct {
	ElevationID string `json:"elevation_id,omitempty" query:"elevation_id"`
	BayFrom     int    `json:"bay_from,omitempty" query:"bay_from"`
	BayTo       int    `json:"bay_to,omitempty" query:"bay_to"`
	LiftFrom    int    `json:"lift_from,omitempty" query:"lift_from"`
	LiftTo      int    `json:"lift_to,omitempty" query:"lift_to"`
}

// NewRelease is an answer to a hold point.
type NewRelease struct {
	HoldPoint string `json:"hold_point" query:"hold_point" doc:"H0 to H11"`
	Outcome   string `json:"outcome,omitempty" query:"outcome" doc:"released, released with conditions, refused or lapsed after notice"`
	Text      string `json:"text,omitempty" query:"text" doc:"conditions, or reasons of a refusal"`
	Area
}

func (n NewRelease) input() register.ReleaseInput {
	return register.ReleaseInput{
		HoldPoint: n.HoldPoint, ElevationID: n.ElevationID, BayFrom: n.BayFrom, BayTo: n.BayTo,
		LiftFrom: n.LiftFrom, LiftTo: n.LiftTo, Outcome: defects.ReleaseOutcome(n.Outcome), Text: n.Text,
	}
}

// Release is one answer given.
type Release struct {
	ID string `json:"id"`
	NewRelease
	By Person `json:"by"`
	At string `json:"at"`
}

func releaseOf(r defects.Release) Release {
	return Release{ID: r.ID, By: personOf(r.By), At: stamp(r.At), NewRelease: NewRelease{
		HoldPoint: r.HoldPoint,
		Outcome:   string(r.Outcome), Text: r.Text, Area: Area{
			ElevationID: r.ElevationID, BayFrom: r.BayFrom, BayTo: r.BayTo,
			LiftFrom: r.LiftFrom, LiftTo: r.LiftTo,
		},
	}}
}

type readinessIn struct {
	SiteIn
	NewRelease
}

type readinessOut struct {
	Body struct {
		Ready   bool           `json:"ready"`
		Reasons []ProblemError `json:"reasons"`
	}
}

type newReleaseIn struct {
	SiteIn
	Body NewRelease
}

type releaseOut struct{ Body Release }

type releasesOut struct {
	Body struct {
		Items []Release `json:"items"`
	}
}

func (a *api) releases() {
	reg := a.s.reg
	handle(a, get("/sites/{site}/releases", "Answers to hold points, the newest first"), may(defects.ViewSite),
		func(ctx context.Context, in *SiteIn) (*releasesOut, error) {
			list, err := reg.Releases(ctx, actorFrom(ctx), in.Site)
			out := &releasesOut{}
			out.Body.Items = each(list, releaseOf)
			return out, err
		})
	handle(a, created(post("/sites/{site}/releases", "Release or refuse a hold point for an area")), may(defects.ReleaseHoldPoint),
		func(ctx context.Context, in *newReleaseIn) (*releaseOut, error) {
			r, err := reg.ReleaseHold(ctx, actorFrom(ctx), in.Site, in.Body.input())
			return &releaseOut{Body: releaseOf(r)}, err
		})
	handle(a, get("/sites/{site}/readiness", "May a hold point be released for an area, and what stands in the way"), may(defects.ViewSite),
		func(ctx context.Context, in *readinessIn) (*readinessOut, error) {
			ready, err := reg.ReadinessOf(ctx, actorFrom(ctx), in.Site, in.input())
			out := &readinessOut{}
			out.Body.Ready = ready.Ready
			out.Body.Reasons = each(ready.Reasons, func(d defects.Detail) ProblemError { return ProblemError(d) })
			return out, err
		})
	a.milestones()
}

// Milestone is a planned date that takes a part of a wall away.
type Milestone struct {
	ID    string `json:"id,omitempty"`
	Kind  string `json:"kind" doc:"cover-up, strike or completion"`
	Stage string `json:"stage,omitempty" doc:"for a cover-up: the stage that starts"`
	On    string `json:"on" doc:"date"`
	Area
	Version int `json:"version,omitempty" doc:"0 makes a new one"`
}

func milestoneOf(m defects.Milestone) Milestone {
	return Milestone{
		ID: m.ID, Kind: string(m.Kind), Stage: m.Stage, On: m.On, Version: m.Version,
		Area: Area{ElevationID: m.ElevationID, BayFrom: m.BayFrom, BayTo: m.BayTo, LiftFrom: m.LiftFrom, LiftTo: m.LiftTo},
	}
}

type milestonesOut struct {
	Body struct {
		Items []Milestone `json:"items"`
	}
}

type milestoneIn struct {
	SiteIn
	Body Milestone
}

type milestoneOut struct{ Body Milestone }

type milestoneID struct {
	SiteIn
	Changed
	ID string `path:"milestone"`
}

func (a *api) milestones() {
	reg := a.s.reg
	handle(a, get("/sites/{site}/milestones", "Planned cover-ups, strikes and completions"), may(defects.ViewSite),
		func(ctx context.Context, in *SiteIn) (*milestonesOut, error) {
			list, err := reg.Milestones(ctx, actorFrom(ctx), in.Site)
			out := &milestonesOut{}
			out.Body.Items = each(list, milestoneOf)
			return out, err
		})
	handle(a, post("/sites/{site}/milestones", "Set a milestone"), may(defects.EditSite),
		func(ctx context.Context, in *milestoneIn) (*milestoneOut, error) {
			b := in.Body
			m, err := reg.SetMilestone(ctx, actorFrom(ctx), defects.Milestone{
				ID: b.ID, SiteID: in.Site, Kind: defects.MilestoneKind(b.Kind),
				Stage: b.Stage, On: b.On, ElevationID: b.ElevationID, BayFrom: b.BayFrom, BayTo: b.BayTo, LiftFrom: b.LiftFrom,
				LiftTo: b.LiftTo, Version: b.Version,
			})
			return &milestoneOut{Body: milestoneOf(m)}, milestoneRefusal(err)
		})
	op := get("/sites/{site}/milestones/{milestone}", "Take a milestone away")
	op.Method = "DELETE"
	handle(a, op, may(defects.EditSite), func(ctx context.Context, in *milestoneID) (*struct{}, error) {
		version, err := ifMatch(in.IfMatch)
		if err != nil {
			return nil, err
		}
		return nil, reg.DeleteMilestoneAt(ctx, actorFrom(ctx), in.Site, in.ID, version)
	})
}

// milestoneRefusal names where a milestone's version is sent: in its body.
func milestoneRefusal(err error) error {
	if errors.Is(err, defects.Stale) {
		return named(err, "version")
	}
	return err
}
