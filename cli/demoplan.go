package cli

import (
	"context"
	"fmt"
	"time"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/imaging"
)

// planAll writes the whole calendar. Nothing happens yet.
func (d *demo) planAll(context.Context) error {
	for _, s := range spreads() {
		d.spread(s)
	}
	for _, s := range anchorSets() {
		d.testAnchors(s)
	}
	for _, group := range [][]life{
		d.slipLives(), d.layerLives(), d.newLives(), d.criticalLives(), d.disputedLives(), d.settledLives(), d.returnedLives(),
	} {
		for _, l := range group {
			d.live(l)
		}
	}
	d.record()
	d.dates()
	d.releases()
	d.fixingTests()
	d.survey()
	d.weather()
	return nil
}

// record plans the photos that belong to no snag, some of them odd.
func (d *demo) record() {
	wide := func(layer imaging.SceneLayer, stage string) scene {
		return scene{layer: layer, tone: "red", stage: stage, kind: "context", view: 4800}
	}
	for i, r := range []struct {
		wall string
		x, z defects.MM
		day  int
		odd  oddity
		s    scene
		note string
	}{
		{larkSouth, 5000, 1500, 9, usual, wide(imaging.SceneBoards, "IB"), "first boards, west end"},
		{larkSouth, 20000, 1500, 14, usual, wide(imaging.SceneBoards, "FX"), "fixings, middle houses"},
		{larkSouth, 33000, 1500, 20, usual, wide(imaging.SceneCoat, "BM"), "mesh before closing"},
		{larkNorth, 10000, 1500, 25, usual, wide(imaging.SceneCoat, "BM"), ""},
		{larkSouth, 8000, 1500, 30, usual, wide(imaging.SceneSlips, "SL"), ""},
		{larkSouth, 26000, 1500, 36, usual, wide(imaging.SceneSlips, "SL"), ""},
		{hareSouth, 9000, 1500, 22, usual, wide(imaging.SceneBoards, "IB"), ""},
		{hareSouth, 27000, 1500, 36, usual, wide(imaging.SceneCoat, "BM"), ""},
		{quillSouth, 15000, 1500, 46, usual, wide(imaging.SceneBoards, "IB"), ""},
		{larkNorth, 5000, 1500, 41, noPlace, wide(imaging.SceneSlips, "SL"), "location was off"},
		{larkSouth, 14000, 1500, 43, lookedAway, wide(imaging.SceneSlips, "PT"), "compass turned by the scaffold"},
		{larkEast, 4000, 1500, 44, stripped, wide(imaging.SceneSlips, "PT"), "came through a chat"},
		{hareEast, 4000, 1500, 48, clockFast, wide(imaging.SceneCoat, "BM"), "camera an hour ahead"},
		{hareNorth, 12000, 1500, 49, weakPlace, wide(imaging.SceneCoat, "BM"), "between sheeting and wall"},
		{quillSouth, 22000, 1500, 50, fromTheRoad, wide(imaging.SceneBoards, "IB"), "seen from the road"},
	} {
		s := r.s
		s.odd, s.note = r.odd, r.note
		s.unplaced = r.odd == usual || r.odd == noPlace || r.odd == stripped
		by := []string{"operative", "clerk"}[i%2]
		d.shoot(s, r.wall, r.x, r.z, by, d.calendar.at(r.day, 11.2))
	}
}

// dates plans the milestones that lie ahead: the cover-ups, strikes and the
// completion that make snags urgent.
func (d *demo) dates() {
	for _, m := range []struct {
		kind             defects.MilestoneKind
		stage, wall      string
		bayFrom, bayTo   int
		liftFrom, liftTo int
		day              int
	}{
		{defects.CoverUp, "BM", quillSouth, 0, 0, 0, 0, 60},
		{defects.CoverUp, "SL", hareSouth, 0, 0, 0, 0, 63},
		{defects.CoverUp, "PT", larkNorth, 0, 0, 0, 0, 58},
		{defects.Strike, "", larkSouth, 1, 8, 0, 0, 59},
		{defects.Strike, "", larkSouth, 9, 17, 0, 0, 66},
		{defects.Strike, "", larkEast, 0, 0, 2, 3, 68},
		{defects.Completion, "", "", 0, 0, 0, 0, 110},
	} {
		d.on(d.calendar.at(40, 8), "milestone", func(ctx context.Context) error {
			elevation := ""
			if m.wall != "" {
				w, err := d.wall(m.wall)
				if err != nil {
					return err
				}
				elevation = w.ID
			}
			_, err := d.reg.SetMilestone(ctx, d.people["manager"], defects.Milestone{
				SiteID: d.site, Kind: m.kind, Stage: m.stage, ElevationID: elevation, BayFrom: m.bayFrom, BayTo: m.bayTo,
				LiftFrom: m.liftFrom, LiftTo: m.liftTo, On: d.calendar.date(m.day),
			})
			return err
		})
	}
}

// releases plans the answers to hold points.
func (d *demo) releases() {
	for _, r := range []struct {
		point, wall    string
		bayFrom, bayTo int
		day            int
		outcome        defects.ReleaseOutcome
		text           string
	}{
		{"H2", larkSouth, 0, 0, 5, defects.Released, ""},
		{"H2", larkNorth, 0, 0, 5, defects.Released, ""},
		{"H2", hareSouth, 0, 0, 12, defects.ReleasedConditions, "sweep the wall again before the adhesive"},
		{"H2", quillSouth, 0, 0, 10, defects.ReleaseRefused, "pull-out tests void: the tester was out of calibration"},
		{"H7", hareSouth, 5, 9, 39, defects.ReleaseRefused, "mesh laps short below the sills; see the snag list"},
		{"H0", larkWest, 0, 0, 26, defects.Released, "reference panel, revision C"},
	} {
		at := d.calendar.at(r.day, 16.5).Add(time.Minute)
		d.on(at, "release "+r.point, func(ctx context.Context) error {
			w, err := d.wall(r.wall)
			if err != nil {
				return err
			}
			_, err = d.reg.ReleaseHold(ctx, d.people["clerk"], d.site, register.ReleaseInput{
				HoldPoint: r.point, ElevationID: w.ID, BayFrom: r.bayFrom, BayTo: r.bayTo, Outcome: r.outcome, Text: r.text,
			})
			if err != nil {
				return fmt.Errorf("%s of %s: %w", r.point, r.wall, err)
			}
			return nil
		})
	}
}
