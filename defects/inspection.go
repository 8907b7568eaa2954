package defects

import (
	"cmp"
	"slices"
	"strings"
)

// PlanFacts is what an inspection plan is worked out from. Photos are those the
// asker may see, Begun are stages of elevations that readings show to be under
// way.
type PlanFacts struct {
	Stages     []Stage
	Photos     []RequiredPhoto
	Readings   []RequiredReading
	Milestones []Milestone
	Releases   []Release
	Taken      []Photo
	Begun      []StageAt
	Today      string // "2006-01-02" on the site
}

// StageAt is a stage of the work on an elevation.
type StageAt struct{ ElevationID, Stage string }

// PlanAsk narrows an inspection plan. A stage that is named is planned for whether
// or not it has begun.
type PlanAsk struct {
	ElevationID string
	Stage       string
	Worst       Grade // of a photo that counts; "" = GradeB
}

// PlanCell is a bay and lift with what it still asks for.
type PlanCell struct {
	Bay, Lift int
	Photo     bool         // no photo of it that can be used
	Short     []ShortPhoto // those there are, none of which counts
	Release   bool         // the stage's hold point is not released there
	Refused   bool         // it was refused last
}

// PlanEntry is what one stage of the work on one elevation still asks for.
type PlanEntry struct {
	Elevation Elevation
	Stage     Stage
	Scale     bool       // a scale must be in frame
	Cells     []PlanCell // those that ask for something, the top lift first, each from the left
	ByCell    bool       // photos are asked for of each bay and lift, else by item, opening, run or elevation
	Usable    int        // photos of the stage on the elevation that can be used
	Loose     []string   // photos of the stage without a bay and lift, which count for none
	Photos    []RequiredPhoto
	Readings  []RequiredReading
	Due       Due  // the planned date that takes the chance away; On "" = none is planned
	Past      bool // it is past: what is hidden by now can only be opened up
	Overhead  bool // some of it is higher than can be reached from the ground
}

// reachable is how high above the ground a wall is looked at from the ground
// (common practice).
const reachable MM = 2000

// PlanOf works out the inspection plan: for every elevation and stage that is under
// way, or that a planned cover-up will hide, the bays and lifts without a usable
// photo or without the release of the stage's hold point. A stage is under way once
// it has a photo, a reading, or an answer to its hold point. What is taken away
// soonest comes first, what has no date last.
func PlanOf(walls []Elevation, f PlanFacts, ask PlanAsk) []PlanEntry {
	photos := map[StageAt][]Photo{}
	begun := map[StageAt]bool{}
	for _, at := range f.Begun {
		begun[at] = true
	}
	for _, p := range f.Taken {
		at := StageAt{p.Place.ElevationID, p.Stage}
		photos[at], begun[at] = append(photos[at], p), true
	}
	var out []PlanEntry
	for _, e := range walls {
		if ask.ElevationID != "" && ask.ElevationID != e.ID {
			continue
		}
		for _, stage := range f.Stages {
			at := StageAt{e.ID, stage.Code}
			if ask.Stage != "" && ask.Stage != stage.Code {
				continue
			}
			if ask.Stage == "" && !begun[at] && !answered(e, stage, f.Releases) && !toBeHidden(e, stage, f) {
				continue
			}
			if entry := f.entry(e, stage, photos[at], ask); len(entry.Cells) > 0 || entry.NoPhoto() {
				out = append(out, entry)
			}
		}
	}
	slices.SortStableFunc(out, func(a, b PlanEntry) int {
		return cmp.Or(cmp.Compare(ones(a.Due.On == ""), ones(b.Due.On == "")), cmp.Compare(a.Due.On, b.Due.On))
	})
	return out
}

func ones(late bool) int {
	if late {
		return 1
	}
	return 0
}

// answered reports whether a stage's hold point has an answer on an elevation.
func answered(e Elevation, stage Stage, releases []Release) bool {
	return stage.HoldPoint != "" && slices.ContainsFunc(releases, func(r Release) bool {
		return r.HoldPoint == stage.HoldPoint && r.ElevationID == e.ID
	})
}

// toBeHidden reports whether a cover-up is planned, today or later, that hides a
// stage on an elevation.
func toBeHidden(e Elevation, stage Stage, f PlanFacts) bool {
	return slices.ContainsFunc(f.Milestones, func(m Milestone) bool {
		return m.Kind == CoverUp && m.On >= f.Today && m.Covers(Place{ElevationID: e.ID}) && takesAway(m, stage.Code)
	})
}

// entry is what one stage asks for on one elevation.
func (f PlanFacts) entry(e Elevation, stage Stage, photos []Photo, ask PlanAsk) PlanEntry {
	p := PlanEntry{Elevation: e, Stage: stage}
	for _, row := range f.Photos {
		if row.Stage == stage.Code {
			p.Photos = append(p.Photos, row)
		}
	}
	for _, row := range f.Readings {
		if row.Stage == stage.Code {
			p.Readings = append(p.Readings, row)
		}
	}
	p.Scale = ScaleDue(stage.Code, f.Photos)
	cover := CoverOf(e, photos, CoverNeed{Stage: stage.Code, Worst: ask.Worst, Scale: p.Scale})
	p.Loose, p.ByCell = cover.Loose, byCell(p.Photos)
	for _, c := range cover.Cells {
		p.Usable += len(c.Usable)
		cell := PlanCell{Bay: c.Bay, Lift: c.Lift, Photo: p.ByCell && !c.Covered()}
		if cell.Photo {
			cell.Short = c.Short
		}
		cell.Release, cell.Refused = f.held(e, stage, c)
		if !cell.Photo && !cell.Release {
			continue
		}
		p.Cells = append(p.Cells, cell)
		p.Overhead = p.Overhead || e.topOf(c.Lift)+e.BaseLine > reachable
	}
	p.Due, p.Past = f.due(p)
	return p
}

// byCell reports whether photos are asked for by area, so that each bay and lift
// needs one.
func byCell(rows []RequiredPhoto) bool {
	return slices.ContainsFunc(rows, func(r RequiredPhoto) bool {
		return strings.Contains(r.HowMany, "bay-lift") || strings.Contains(r.HowMany, "m2")
	})
}

// NoPhoto reports whether a stage that needs photos by item or elevation has none
// that can be used.
func (p PlanEntry) NoPhoto() bool { return len(p.Photos) > 0 && !p.ByCell && p.Usable == 0 }

// topOf is the top of a lift, of the wall where it has none.
func (e Elevation) topOf(lift int) MM {
	if lift < 1 || lift > len(e.Lifts) {
		return e.Height
	}
	return e.Lifts[lift-1]
}

// held reports whether the hold point that ends a stage is not released in a cell,
// by the latest answer that covers it, and whether that was a refusal.
func (f PlanFacts) held(e Elevation, stage Stage, c CoverCell) (held, refused bool) {
	if stage.HoldPoint == "" {
		return false, false
	}
	var last *Release
	for i, r := range f.Releases {
		if r.HoldPoint == stage.HoldPoint && r.Covers(Place{ElevationID: e.ID, Bay: c.Bay, Lift: c.Lift}) && (last == nil || r.At.After(last.At)) {
			last = &f.Releases[i]
		}
	}
	refused = last != nil && last.Outcome == ReleaseRefused
	return last == nil || refused, refused
}

// due is the first planned date from today on that takes something of an entry
// away, else the last one that has.
func (f PlanFacts) due(p PlanEntry) (due Due, past bool) {
	var all []Milestone
	for _, m := range f.Milestones {
		at := Place{ElevationID: p.Elevation.ID}
		if takesAway(m, p.Stage.Code) && m.Covers(at) && (p.NoPhoto() || slices.ContainsFunc(p.Cells, func(c PlanCell) bool {
			return m.Covers(Place{ElevationID: p.Elevation.ID, Bay: c.Bay, Lift: c.Lift})
		})) {
			all = append(all, m)
		}
	}
	slices.SortStableFunc(all, func(a, b Milestone) int { return cmp.Compare(a.On, b.On) })
	i := slices.IndexFunc(all, func(m Milestone) bool { return m.On >= f.Today })
	switch {
	case len(all) == 0:
		return Due{}, false
	case i < 0:
		i, past = len(all)-1, true
	}
	m := all[i]
	return Due{On: m.On, Reason: reasonOf(m.Kind), Text: m.Words(f.Stages), MilestoneID: m.ID}, past
}

// Asks counts the cells without a usable photo and those that are not released.
func (p PlanEntry) Asks() (photos, releases int) {
	for _, c := range p.Cells {
		photos += ones(c.Photo)
		releases += ones(c.Release)
	}
	return photos, releases
}

// Needs says what a cell asks for: "photo", "release" or both.
func (c PlanCell) Needs() string {
	var words []string
	if c.Photo {
		words = append(words, "photo")
	}
	if c.Release {
		words = append(words, "release")
	}
	return strings.Join(words, " and ")
}
