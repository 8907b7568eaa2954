package defects

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func coverWall() Elevation {
	return Elevation{ID: "e", Length: 9000, Height: 4000, Bays: []MM{3000, 6000, 9000}, Lifts: []MM{2000, 4000}}
}

func coverPhoto(id string, bay, lift int, grade Grade, scale bool) Photo {
	return Photo{ID: id, Stage: "BM", Grade: grade, ScaleSeen: scale, Place: Place{ElevationID: "e", Bay: bay, Lift: lift}}
}

func TestCoverageTellsCellsWithAUsablePhotoFromThoseWithout(t *testing.T) {
	t.Parallel()
	photos := []Photo{
		coverPhoto("good", 1, 1, GradeA, true),
		coverPhoto("also", 1, 1, GradeB, true),
		coverPhoto("weak", 2, 1, GradeC, true),
		coverPhoto("bare", 3, 2, GradeA, false),
		coverPhoto("wide", 0, 2, GradeA, true),
		coverPhoto("nowhere", 4, 1, GradeA, true),
		{ID: "other stage", Stage: "SL", Grade: GradeA, ScaleSeen: true, Place: Place{ElevationID: "e", Bay: 2, Lift: 2}},
		{ID: "other wall", Stage: "BM", Grade: GradeA, ScaleSeen: true, Place: Place{ElevationID: "f", Bay: 2, Lift: 2}},
	}
	c := CoverOf(coverWall(), photos, CoverNeed{Stage: "BM", Scale: true})
	require.Len(t, c.Cells, 6)
	require.Equal(t, CoverCell{Bay: 1, Lift: 2}, c.Cells[0], "from the top left")
	require.Equal(t, []string{"good", "also"}, c.Cells[3].Usable)
	require.Equal(t, []ShortPhoto{{"weak", "grade C"}}, c.Cells[4].Short)
	require.Equal(t, []ShortPhoto{{"bare", "no scale in frame"}}, c.Cells[2].Short)
	require.Equal(t, []string{"wide", "nowhere"}, c.Loose)
	require.Len(t, c.Bare(), 5)

	exact := coverPhoto("exact", 1, 1, GradeA, true) // of when the bays were wider
	exact.Place.X, exact.Place.Z = new(MM), new(MM)
	*exact.Place.X, *exact.Place.Z = 7000, 2500
	require.Equal(t, []string{"exact"}, CoverOf(coverWall(), []Photo{exact}, CoverNeed{Stage: "BM"}).Cells[2].Usable, "bay and lift follow from x and z")

	c = CoverOf(coverWall(), photos, CoverNeed{Stage: "BM", Worst: GradeC})
	require.Len(t, c.Bare(), 3, "a weaker need is met by more")
}

func TestAnElevationWithoutBaysOrLiftsIsOneCell(t *testing.T) {
	t.Parallel()
	e := Elevation{ID: "e", Length: 9000, Height: 4000}
	require.Len(t, CoverOf(e, nil, CoverNeed{Stage: "BM"}).Bare(), 1)
	require.Empty(t, CoverOf(e, []Photo{coverPhoto("p", 0, 0, GradeA, false)}, CoverNeed{Stage: "BM"}).Bare())
}

func TestAScaleIsDueByTheRowsForEveryCellFirst(t *testing.T) {
	t.Parallel()
	rows := []RequiredPhoto{
		{Stage: "IB", Scale: "tape", HowMany: "1 per bay-lift"},
		{Stage: "IB", Scale: "no", HowMany: "each delivery"},
		{Stage: "XX", Scale: "no", HowMany: "1 per bay-lift"},
		{Stage: "XX", Scale: "rule", HowMany: "5"},
		{Stage: "CL", Scale: "no", HowMany: "1 per day"},
		{Stage: "PN", Scale: "tag", HowMany: "1 per item"},
	}
	require.True(t, ScaleDue("IB", rows))
	require.False(t, ScaleDue("XX", rows))
	require.False(t, ScaleDue("CL", rows))
	require.False(t, ScaleDue("PN", rows))
	require.False(t, ScaleDue("none", rows))
}
