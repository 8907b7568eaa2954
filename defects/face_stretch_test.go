package defects

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestAPhotoSaysWhatItTakesInOfAnElevationOrWhyNot(t *testing.T) {
	t.Parallel()
	site := terraces()
	north := site[0].Elevations[0]
	for _, e := range site[0].Elevations {
		if e.Name == "North" {
			north = e
		}
	}
	m := MapFaces(site)
	c := shot(9, 17, 180, 5) // 9 m north of the wall; facing it, its left end is the eastern one
	focal := 26.0
	c.Focal35MM, c.Width, c.Height = &focal, 4000, 3000
	got := m.Stretch(c, FaceOptions{}, north)
	require.True(t, got.Known, got.Why)
	require.InDelta(t, 24-9, got.Middle.Best, 0.6)
	require.Less(t, got.From.Best, got.Middle.Best)
	require.Less(t, got.Middle.Best, got.To.Best)
	require.Nil(t, got.Top)

	c.Width, c.Height = 3000, 4000
	upright := m.Stretch(c, FaceOptions{}, north)
	require.Less(t, upright.To.Best-upright.From.Best, got.To.Best-got.From.Best, "a portrait takes in less")
	wide := 30.0
	c.HErrorM = &wide
	loose := m.Stretch(c, FaceOptions{}, north)
	tight := m.Stretch(c, FaceOptions{RadiusFactor: Accuracy95.Factor()}, north)
	require.Less(t, tight.Middle.High-tight.Middle.Low, loose.Middle.High-loose.Middle.Low, "a radius that holds 95 % means a smaller error")
	tilt := 5.0
	c.TiltDeg = &tilt
	tilted := m.Stretch(c, FaceOptions{}, north)
	require.NotNil(t, tilted.Top)
	require.Contains(t, tilted.Notes[len(tilted.Notes)-1], "from a scaffold it is higher")
	c.Focal35MM = nil
	require.Contains(t, m.Stretch(c, FaceOptions{}, north).Notes[0], "only the middle")

	typed := north
	typed.ID, typed.Edge = "typed", -1
	far := 10.0
	for why, ask := range map[string]struct {
		c Capture
		e Elevation
	}{
		"carries no position":   {Capture{}, north},
		"which way the camera":  {shot(9, 17, -1, 5), north},
		"no edge of an outline": {shot(9, 17, 180, 5), typed},
		"nowhere near":          {Capture{Lat: &far, Lon: &far, Direction: &far}, north},
		"did not look at this":  {shot(9, 17, 2, 5), north},
	} {
		got := m.Stretch(ask.c, FaceOptions{}, ask.e)
		require.False(t, got.Known)
		require.Contains(t, got.Why, why)
	}
	require.Contains(t, MapFaces(nil).Stretch(shot(9, 17, 180, 5), FaceOptions{}, north).Why, "no edge of an outline")
}

// Of a circular normal distribution 1 − exp(−r²/2σ²) lies within r.
func TestAStatedAccuracyIsReadAsTheSiteSays(t *testing.T) {
	t.Parallel()
	require.InDelta(t, 0.662, Accuracy68.Factor(), 0.0005)
	require.InDelta(t, 0.409, Accuracy95.Factor(), 0.0006)
	require.Equal(t, 0.707, AccuracyPhone.Factor())
	for reading, part := range map[AccuracyReading]float64{Accuracy68: 0.68, Accuracy95: 0.95} {
		sigma := reading.Factor() * 12
		require.InDelta(t, part, 1-math.Exp(-12*12/(2*sigma*sigma)), 1e-12)
	}
	require.InDelta(t, 12, FaceOptions{RadiusFactor: Accuracy68.Factor()}.CircleM(12), 1e-9)
	require.Equal(t, FaceOptions{RadiusFactor: 0.707, Threshold: 0.9}, Site{}.FaceOptions())
	high := MustDecimal("0.97")
	require.Equal(t, 0.97, Site{FaceThreshold: &high}.FaceOptions().Threshold)
	for _, bad := range []string{"0.5", "0", "-0.9", "1", "90"} {
		require.Error(t, CheckFaceThreshold(MustDecimal(bad)), bad)
	}
	for _, good := range []string{"0.51", "0.90", "0.9999"} {
		require.NoError(t, CheckFaceThreshold(MustDecimal(good)), good)
	}
}

func TestAPersonsWallIsInDoubtOnlyWhenThePhotosFactsContradictIt(t *testing.T) {
	t.Parallel()
	site := terraces()
	wall := func(name string) *Elevation {
		for _, e := range site[0].Elevations {
			if e.Name == name {
				return &e
			}
		}
		return nil
	}
	typed := *wall("West")
	typed.ID, typed.Edge = "typed", -1
	for _, c := range []struct {
		name    string
		capture Capture
		wall    *Elevation
		by      PlacedBy
		want    bool
	}{
		{"the wall it shows", shot(12, 17, 178, 5), wall("North"), PlacedPerson, false},
		{"a gable it does not show", shot(12, 17, 178, 5), wall("West"), PlacedPerson, true},
		{"put there by the program", shot(12, 17, 178, 5), wall("West"), PlacedProgram, false},
		{"no position", Capture{}, wall("West"), PlacedPerson, false},
		{"at the corner, either may be", shot(-4, 12, 135, 5), wall("West"), PlacedPerson, false},
		{"a wall without an edge of an outline", shot(12, 17, 178, 5), &typed, PlacedPerson, false},
	} {
		grade, flags := CheckPhoto(PhotoCheck{Photo: Photo{Capture: c.capture, PlacedBy: c.by}, Elevation: c.wall, Buildings: site})
		got := false
		for _, f := range flags {
			got = got || f.Code == FlagUnlikelyWall
		}
		require.Equal(t, c.want, got, "%s: %v", c.name, flags)
		if got {
			require.Equal(t, GradeC, grade, c.name)
		}
	}
}
