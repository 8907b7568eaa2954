package defects

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// planned is an invented wall of two bays and two lifts with the tables of two stages.
func planned() ([]Elevation, PlanFacts) {
	walls := []Elevation{
		{ID: "n", Building: "Terrace A", Name: "North", Length: 4000, Height: 4000, Bays: []MM{2000, 4000}, Lifts: []MM{1900, 4000}},
		{ID: "s", Building: "Terrace A", Name: "South", Length: 4000, Height: 4000, Bays: []MM{2000, 4000}, Lifts: []MM{1900, 4000}},
	}
	return walls, PlanFacts{
		Today: "2026-06-01",
		Stages: []Stage{
			{Code: "IB", Name: "Insulation boards", Order: 4, HoldPoint: "H3"},
			{Code: "BM", Name: "Base coat", Order: 8, HoldPoint: "H7"},
			{Code: "PT", Name: "Pointing", Order: 12},
		},
		Photos:   []RequiredPhoto{{Stage: "IB", Show: "boards", Scale: "tape", HowMany: "1 per bay-lift"}, {Stage: "BM", Show: "laps", Scale: "tape", HowMany: "1 per bay-lift"}},
		Readings: []RequiredReading{{Stage: "IB", Name: "gap"}},
	}
}

func shown(stage, elevation string, bay, lift int, grade Grade, scale bool) Photo {
	return Photo{ID: stage + string(grade), Stage: stage, Grade: grade, ScaleSeen: scale, Place: Place{ElevationID: elevation, Bay: bay, Lift: lift}}
}

func TestAStageUnderWayAsksForWhatItsPhotosDoNotShow(t *testing.T) {
	t.Parallel()
	walls, f := planned()
	require.Empty(t, PlanOf(walls, f, PlanAsk{}), "nothing has begun")
	f.Taken = []Photo{shown("IB", "n", 1, 1, GradeA, true), shown("IB", "n", 2, 1, GradeA, false), shown("IB", "n", 0, 0, GradeB, true)}
	plan := PlanOf(walls, f, PlanAsk{})
	require.Len(t, plan, 1, "the south has not begun, nor has the base coat")
	p := plan[0]
	require.Equal(t, "North IB", p.Elevation.Name+" "+p.Stage.Code)
	require.True(t, p.Scale)
	require.True(t, p.Overhead, "lift 2 ends 4 m up")
	require.Equal(t, []string{"IBB"}, p.Loose)
	require.Equal(t, []PlanCell{
		{Bay: 1, Lift: 2, Photo: true, Release: true},
		{Bay: 2, Lift: 2, Photo: true, Release: true},
		{Bay: 1, Lift: 1, Release: true},
		{Bay: 2, Lift: 1, Photo: true, Release: true, Short: []ShortPhoto{{"IBA", "no scale in frame"}}},
	}, p.Cells)
	photos, releases := p.Asks()
	require.Equal(t, []int{3, 4}, []int{photos, releases})
	require.Equal(t, "photo and release", p.Cells[0].Needs())
	require.Len(t, p.Photos, 1)
	require.Len(t, p.Readings, 1)
}

func TestWhatIsReleasedAndShownLeavesThePlan(t *testing.T) {
	t.Parallel()
	walls, f := planned()
	for bay := 1; bay <= 2; bay++ {
		for lift := 1; lift <= 2; lift++ {
			f.Taken = append(f.Taken, shown("IB", "n", bay, lift, GradeB, true))
		}
	}
	at := time.Date(2026, 5, 1, 0, 0, 0, 0, time.UTC)
	f.Releases = []Release{{HoldPoint: "H3", ElevationID: "n", Outcome: Released, At: at}}
	require.Empty(t, PlanOf(walls, f, PlanAsk{}))
	f.Releases = append(f.Releases, Release{HoldPoint: "H3", ElevationID: "n", BayFrom: 2, BayTo: 2, Outcome: ReleaseRefused, At: at.AddDate(0, 0, 1)})
	plan := PlanOf(walls, f, PlanAsk{})
	require.Len(t, plan, 1)
	require.Equal(t, []PlanCell{{Bay: 2, Lift: 2, Release: true, Refused: true}, {Bay: 2, Lift: 1, Release: true, Refused: true}}, plan[0].Cells,
		"the later answer counts, where it was given")
	f.Releases = append(f.Releases, Release{HoldPoint: "H3", ElevationID: "n", Outcome: LapsedAfterNotice, At: at.AddDate(0, 0, 2)})
	require.Empty(t, PlanOf(walls, f, PlanAsk{}), "a lapse after notice is an answer")
	require.Len(t, PlanOf(walls, f, PlanAsk{Worst: GradeA})[0].Cells, 4, "only grade A is to count")
}

func TestWhatADateTakesAwayComesFirst(t *testing.T) {
	t.Parallel()
	walls, f := planned()
	f.Begun = []StageAt{{"n", "PT"}, {"n", "IB"}}
	f.Milestones = []Milestone{
		{ID: "past", Kind: CoverUp, Stage: "BM", ElevationID: "n", On: "2026-05-01"},
		{ID: "strike", Kind: Strike, ElevationID: "n", On: "2026-07-01"},
		{ID: "cover", Kind: CoverUp, Stage: "SL", ElevationID: "s", BayFrom: 1, BayTo: 1, LiftFrom: 1, LiftTo: 1, On: "2026-06-10"},
	}
	var got []string
	for _, p := range PlanOf(walls, f, PlanAsk{}) {
		got = append(got, p.Elevation.Name+" "+p.Stage.Code+" "+p.Due.On)
	}
	// Pointing has no hold point and no table here, so it asks for nothing.
	require.Equal(t, []string{"South IB 2026-06-10", "South BM 2026-06-10", "North IB 2026-07-01"}, got)
	f.Today = "2026-08-01"
	plan := PlanOf(walls, f, PlanAsk{})
	require.Len(t, plan, 1, "what a past date would have hidden is shown only once it is under way")
	require.True(t, plan[0].Past)
	require.Equal(t, "strike", plan[0].Due.MilestoneID)
	require.Len(t, PlanOf(walls, f, PlanAsk{Stage: "BM"}), 2, "a stage that is asked for is planned at once")
	require.Len(t, PlanOf(walls, f, PlanAsk{Stage: "BM", ElevationID: "s"}), 1)
}

func TestAStageWhosePhotosGoByItemAsksForOneOnce(t *testing.T) {
	t.Parallel()
	walls, f := planned()
	f.Photos = []RequiredPhoto{{Stage: "PT", Show: "each vent", Scale: "tag", HowMany: "1 per item"}}
	f.Begun = []StageAt{{"n", "PT"}}
	plan := PlanOf(walls, f, PlanAsk{})
	require.Len(t, plan, 1)
	require.True(t, plan[0].NoPhoto())
	require.Empty(t, plan[0].Cells)
	f.Taken = []Photo{shown("PT", "n", 2, 1, GradeB, false)}
	require.Empty(t, PlanOf(walls, f, PlanAsk{}), "how many items there are is not known here")
}

func TestAWallWithoutBaysIsOneCellOfThePlan(t *testing.T) {
	t.Parallel()
	_, f := planned()
	shed := []Elevation{{ID: "x", Name: "Shed", Length: 3000, Height: 1500}}
	plan := PlanOf(shed, f, PlanAsk{Stage: "IB"})
	require.Len(t, plan, 1)
	require.Equal(t, []PlanCell{{Bay: 1, Lift: 1, Photo: true, Release: true}}, plan[0].Cells)
	require.False(t, plan[0].Overhead)
}
