package register_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

// wide is a capture with an angle of view: 26 mm in landscape.
func wide(c defects.Capture) defects.Capture {
	focal := 26.0
	c.Focal35MM = &focal
	return c
}

func mm(v defects.MM) *defects.MM { return &v }

func TestAPersonSetsAPhotosPlaceExactlyAndBayAndLiftFollow(t *testing.T) {
	t.Parallel()
	onEachBed(t, func(t *testing.T, b *readingBed) {
		site := b.people.site.ID
		p := b.take(b.clerk, picture(t, 1, wide(shot(9, 178, 5))), register.PhotoInput{Stage: "SL"})
		require.Equal(t, defects.PlacedProgram, p.PlacedBy)
		got, ok, err := b.PhotoOnWall(b.ctx(), b.auditor, site, p.ID, "")
		require.NoError(t, err)
		require.True(t, ok)
		require.Equal(t, b.north.ID, got.Elevation.ID)
		require.True(t, got.Known, got.Why)
		require.InDelta(t, b.north.Length.Metres().Float()/2, got.Middle.Best, 1.5, "it stood before the middle")
		require.Less(t, got.From.Best, got.Middle.Best)
		require.Less(t, got.Middle.Best, got.To.Best)
		require.Greater(t, got.Middle.High-got.Middle.Low, 8.0, "a phone near a wall knows no better")

		to := defects.Place{X: mm(4200), Z: mm(2500)}
		set, err := b.UpdatePhoto(b.ctx(), b.clerk, site, p.ID, 1, register.PhotoPatch{Place: &to})
		require.NoError(t, err)
		require.Equal(t, defects.PlacedPerson, set.PlacedBy)
		require.Equal(t, b.north.ID, set.Place.ElevationID)
		require.Equal(t, []int{b.north.BayAt(4200), b.north.LiftAt(2500)}, []int{set.Place.Bay, set.Place.Lift})
		require.Equal(t, "photo.update", b.last(site).Kind)
		require.Contains(t, string(b.last(site).Data), `"x_mm":4200`)
		cover, err := b.Coverage(b.ctx(), b.auditor, site, b.north.ID, defects.CoverNeed{Stage: "SL"})
		require.NoError(t, err)
		for _, c := range cover.Cells {
			require.Equal(t, c.Bay == set.Place.Bay && c.Lift == set.Place.Lift, c.Covered(), "%+v", c)
		}

		_, err = b.UpdatePhoto(b.ctx(), b.clerk, site, p.ID, 1, register.PhotoPatch{Place: &to})
		refused(t, err, defects.Stale, "stale")
		_, err = b.UpdatePhoto(b.ctx(), b.clerk, site, p.ID, 2, register.PhotoPatch{Place: &defects.Place{X: mm(-1), Z: mm(0)}})
		refused(t, err, defects.Invalid, "outside_elevation")
		_, err = b.UpdatePhoto(b.ctx(), b.auditor, site, p.ID, 2, register.PhotoPatch{Place: &to})
		refused(t, err, defects.Forbidden, "role_forbidden")
		moved, err := b.UpdatePhoto(b.ctx(), b.installer, site, p.ID, 2, register.PhotoPatch{Place: &defects.Place{X: mm(100), Z: mm(100)}})
		require.NoError(t, err)
		require.Equal(t, []int{1, 1}, []int{moved.Place.Bay, moved.Place.Lift})
	})
}

func TestAWallThatAPhotosOwnFactsContradictIsFlagged(t *testing.T) {
	t.Parallel()
	onEachBed(t, func(t *testing.T, b *readingBed) {
		site := b.people.site.ID
		east := b.wall("East")
		onEast := register.PhotoInput{Place: defects.Place{ElevationID: east.ID}}
		p := b.take(b.clerk, picture(t, 1, shot(9, 178, 5)), onEast)
		require.Equal(t, defects.PlacedPerson, p.PlacedBy)
		require.Equal(t, east.ID, p.Place.ElevationID, "a person's choice is flagged, never changed")
		require.Contains(t, flagCodes(p), defects.FlagUnlikelyWall)
		require.Equal(t, defects.GradeC, p.Grade)
		require.Contains(t, p.Flags[len(p.Flags)-1].Text, "likelier is Long Row / North")

		labelled, err := b.UpdatePhoto(b.ctx(), b.clerk, site, p.ID, 1, register.PhotoPatch{LabelSeen: ptr(true)})
		require.NoError(t, err)
		require.Equal(t, defects.GradeB, labelled.Grade, "a label in frame stands in for it")
		right, err := b.UpdatePhoto(b.ctx(), b.clerk, site, p.ID, 2, register.PhotoPatch{ElevationID: &b.north.ID})
		require.NoError(t, err)
		require.Empty(t, right.Flags)
		require.Equal(t, defects.GradeA, right.Grade)

		over := b.take(b.clerk, picture(t, 2, shot(9, 178, 5)), onEast)
		over, err = b.UpdatePhoto(b.ctx(), b.clerk, site, over.ID, 1, register.PhotoPatch{Overrule: ptr("steel before the compass, I took it")})
		require.NoError(t, err)
		flag := over.Flags[len(over.Flags)-1]
		require.Equal(t, defects.FlagUnlikelyWall, flag.Code)
		require.Equal(t, defects.GradeB, flag.Caps)
		require.Contains(t, flag.Text, "overruled: steel before the compass")

		// A photo without a position contradicts nothing.
		bare := b.take(b.clerk, picture(t, 3, noPlace()), onEast)
		require.NotContains(t, flagCodes(bare), defects.FlagUnlikelyWall)
	})
}

// wall is one of the bed's elevations.
func (b *readingBed) wall(name string) defects.Elevation {
	b.t.Helper()
	for _, e := range b.walls {
		if e.Name == name {
			return e
		}
	}
	b.t.Fatalf("no elevation %s", name)
	return defects.Elevation{}
}

func TestASiteSetsByWhatPhotosArePlaced(t *testing.T) {
	t.Parallel()
	onEachBed(t, func(t *testing.T, b *readingBed) {
		site := b.people.site.ID
		before := b.take(b.clerk, picture(t, 1, shot(9, 178, 5)), register.PhotoInput{})
		require.Equal(t, defects.PlacedProgram, before.PlacedBy)
		p := b.take(b.clerk, picture(t, 2, corner()), register.PhotoInput{})
		require.Equal(t, defects.NotPlaced, p.PlacedBy)
		best := p.Facing[0].P
		require.Greater(t, best, 0.5)

		change := func(patch register.SitePatch) (defects.Site, error) {
			now, err := b.Site(b.ctx(), b.clerk, site)
			require.NoError(t, err)
			return b.UpdateSite(b.ctx(), b.clerk, site, now.Version, patch)
		}
		low, _ := defects.DecimalFromFloat(best-0.01, 4)
		got, err := change(register.SitePatch{FaceThreshold: &low, Accuracy: ptr(defects.Accuracy95)})
		require.NoError(t, err)
		require.Equal(t, low, *got.FaceThreshold)
		require.Equal(t, defects.Accuracy95, got.Accuracy)
		require.Equal(t, "site.update", b.last(site).Kind)
		require.Contains(t, string(b.last(site).Data), `"accuracy":"95"`)
		for _, old := range []defects.Photo{before, p} {
			same, err := b.Photo(b.ctx(), b.clerk, site, old.ID)
			require.NoError(t, err)
			require.Equal(t, old, same, "a setting moves no photo")
		}
		taken := b.take(b.clerk, picture(t, 3, corner()), register.PhotoInput{})
		require.Equal(t, defects.PlacedProgram, taken.PlacedBy, "what comes in now goes by it")
		again, err := b.PlaceTogether(b.ctx(), b.clerk, site)
		require.NoError(t, err)
		require.Equal(t, []string{p.ID}, again.Placed, "and so does the second pass")

		got, err = change(register.SitePatch{FaceThreshold: ptr(defects.MustDecimal("0.9")), Accuracy: ptr(defects.AccuracyPhone)})
		require.NoError(t, err)
		require.Nil(t, got.FaceThreshold, "the default is none of its own")
		for _, bad := range []string{"0.5", "1", "-1"} {
			_, err = change(register.SitePatch{FaceThreshold: ptr(defects.MustDecimal(bad))})
			require.Equal(t, "face_threshold", refused(t, err, defects.Invalid, "bad_threshold").Field)
		}
		_, err = change(register.SitePatch{Accuracy: ptr(defects.AccuracyReading("50"))})
		refused(t, err, defects.Invalid, "unknown_reading")
		_, err = b.UpdateSite(b.ctx(), b.designer, site, got.Version, register.SitePatch{Accuracy: ptr(defects.Accuracy68)})
		refused(t, err, defects.Forbidden, "role_forbidden")
	})
}
