package defects

import (
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// fenced is the site of terraces with its fence 10 m round the outermost walls.
func fenced(c Capture, elevation string) PhotoCheck {
	in := PhotoCheck{
		Photo:     Photo{Capture: c, ReceivedAt: time.Date(2025, 5, 6, 9, 30, 0, 0, time.UTC)},
		Buildings: terraces(), Fence: near(rect(-10, -10, 44, 94)...), Zone: time.UTC,
	}
	for _, b := range in.Buildings {
		for _, e := range b.Elevations {
			if e.ID == elevation {
				in.Elevation = &e
			}
		}
	}
	return in
}

func codes(flags []Flag) (out []string) {
	for _, f := range flags {
		out = append(out, f.Code)
	}
	return out
}

// Job J5 of the domain notes.
func TestWhichWayWasTheCameraLooking(t *testing.T) {
	t.Parallel()
	t.Run("178° at 9 m from the north wall is coherent", func(t *testing.T) {
		t.Parallel()
		grade, flags := CheckPhoto(fenced(shot(12, 17, 178, 5), "Q/North"))
		require.Empty(t, flags)
		require.Equal(t, GradeA, grade)
	})
	t.Run("12° looked away from it", func(t *testing.T) {
		t.Parallel()
		in := fenced(shot(12, 17, 12, 5), "Q/North")
		in.Buildings = in.Buildings[:1]
		grade, flags := CheckPhoto(in)
		require.Equal(t, []string{FlagLookedAway}, codes(flags))
		require.Contains(t, flags[0].Text, "camera looked away from this wall: South elevation?")
		require.Equal(t, GradeC, grade)
	})
	t.Run("and names the wall it stands before", func(t *testing.T) {
		t.Parallel()
		_, flags := CheckPhoto(fenced(shot(12, 17, 12, 5), "Q/North"))
		require.Contains(t, flags[0].Text, "Kiln Terrace / South elevation?")
	})
	t.Run("41 m outside, good to 65 m, is not proven", func(t *testing.T) {
		t.Parallel()
		grade, flags := CheckPhoto(fenced(shot(12, 125, 178, 65), "M/North"))
		require.Equal(t, []string{FlagPlaceNotProven}, codes(flags))
		require.Contains(t, flags[0].Text, "place not proven")
		require.Contains(t, flags[0].Text, "41 m outside the fence")
		require.Equal(t, GradeB, grade)
	})
	t.Run("214 m outside, good to 8 m, is refused unless overruled", func(t *testing.T) {
		t.Parallel()
		in := fenced(shot(12, 298, 178, 8), "")
		grade, flags := CheckPhoto(in)
		require.Equal(t, []string{FlagOutsideFence}, codes(flags))
		require.Contains(t, flags[0].Text, "214 m")
		require.Equal(t, GradeX, grade)

		in.Photo.Overruled = "  "
		grade, _ = CheckPhoto(in)
		require.Equal(t, GradeX, grade, "blank is no reason")

		in.Photo.Overruled = "taken from the hill, label K12 in frame"
		grade, flags = CheckPhoto(in)
		require.Equal(t, GradeB, grade)
		require.Contains(t, flags[0].Text, in.Photo.Overruled)
	})
	t.Run("without a position a readable label decides", func(t *testing.T) {
		t.Parallel()
		c := shot(12, 17, 178, 5)
		c.Lat, c.Lon = nil, nil
		in := fenced(c, "Q/North")
		grade, flags := CheckPhoto(in)
		require.Equal(t, []string{FlagNoPlace}, codes(flags))
		require.Equal(t, GradeC, grade)
		in.Photo.LabelSeen = true
		grade, _ = CheckPhoto(in)
		require.Equal(t, GradeB, grade)
	})
}

func summerTime() PhotoCheck {
	in := fenced(shot(12, 17, 178, 5), "Q/North")
	in.Photo.Capture.TakenUTC, in.Photo.Capture.UTCOffset = nil, ""
	in.Photo.Capture.TakenLocal = "2025-11-02T08:20:00"
	in.Photo.ReceivedAt = time.Date(2025, 11, 2, 7, 25, 0, 0, time.UTC)
	in.Zone = time.FixedZone("site", 0)
	return in
}

// Job J6 of the domain notes.
func TestCameraStillOnSummerTime(t *testing.T) {
	t.Parallel()
	in := summerTime()
	grade, flags := CheckPhoto(in)
	require.Equal(t, []string{FlagClockAhead}, codes(flags))
	require.Contains(t, flags[0].Text, "in the future by 55 min")
	require.Contains(t, flags[0].Text, "clock probably +1 h")
	require.True(t, TimeUncertain(flags))
	require.Equal(t, GradeB, grade)
	require.Equal(t, "2025-11-02T08:20:00", in.Photo.Capture.TakenLocal)

	gps := time.Date(2025, 11, 2, 7, 20, 3, 0, time.UTC)
	in.Photo.Capture.GPSUTC = &gps
	_, flags = CheckPhoto(in)
	require.Equal(t, []string{FlagClockAhead, FlagClockHours}, codes(flags))
	require.Contains(t, flags[1].Text, "1 h ahead of satellite time")
}

func TestClockFindings(t *testing.T) {
	t.Parallel()
	at := func(s string) time.Time {
		v, err := time.Parse(time.RFC3339, s)
		require.NoError(t, err)
		return v
	}
	for _, c := range []struct {
		name, local, gps, received string
		want                       []string
		says                       string
	}{
		{"a minute fast is a clock", "2025-05-06T09:31:30", "", "2025-05-06T09:30:00Z", nil, ""},
		{"fast by minutes", "2025-05-06T09:40:00", "", "2025-05-06T09:30:00Z", []string{FlagClockAhead}, "probably fast"},
		{"past the hour", "2025-05-06T10:40:00", "", "2025-05-06T09:30:00Z", []string{FlagClockAhead}, "probably +2 h"},
		{"wrong day", "2025-05-09T09:40:00", "", "2025-05-06T09:30:00Z", []string{FlagClockAhead}, "3 days"},
		{"another zone", "2025-05-06T14:00:00", "", "2025-05-06T09:30:00Z", []string{FlagClockAhead}, "probably +5 h"},
		{"a year late is no fault", "2024-05-06T09:10:00", "", "2025-05-06T09:30:00Z", nil, ""},
		{"hours behind satellites", "2025-05-06T06:10:00", "2025-05-06T09:14:00Z", "2025-05-06T09:30:00Z", []string{FlagClockHours}, "3 h behind"},
		{"last fix some minutes old", "2025-05-06T09:10:00", "2025-05-06T09:02:00Z", "2025-05-06T09:30:00Z", nil, ""},
		{"odd difference", "2025-05-06T08:30:00", "2025-05-06T09:10:00Z", "2025-05-06T09:30:00Z", []string{FlagClockDiffers}, "40 min"},
		{"days from satellites", "2025-05-03T09:10:00", "2025-05-06T09:10:00Z", "2025-05-06T09:30:00Z", []string{FlagClockDiffers}, "3 days"},
		{"clock never set", "1980-01-01T00:00:10", "", "2025-05-06T09:30:00Z", []string{FlagClockUnset}, "1980"},
		{"no time", "", "", "2025-05-06T09:30:00Z", []string{FlagNoTime}, "no time of capture"},
		{"nonsense time", "0000-00-00T00:00:00", "", "2025-05-06T09:30:00Z", []string{FlagNoTime}, "no time of capture"},
		{"satellite time alone", "", "2025-05-06T09:10:00Z", "2025-05-06T09:30:00Z", nil, ""},
		{"satellite time ahead", "", "2025-05-06T11:10:00Z", "2025-05-06T09:30:00Z", []string{FlagClockAhead}, "1 h 40 min"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			in := fenced(shot(12, 17, 178, 5), "Q/North")
			in.Photo.Capture.TakenUTC, in.Photo.Capture.TakenLocal = nil, c.local
			if c.gps != "" {
				gps := at(c.gps)
				in.Photo.Capture.GPSUTC = &gps
			}
			in.Photo.ReceivedAt = at(c.received)
			_, flags := CheckPhoto(in)
			require.Equal(t, c.want, codes(flags))
			if c.says != "" {
				require.Contains(t, flags[0].Text, c.says)
				require.True(t, TimeUncertain(flags))
			}
		})
	}
}

func TestTheSitesZoneReadsACameraWithoutOffset(t *testing.T) {
	t.Parallel()
	in := summerTime()
	in.Zone = time.FixedZone("site", 3600)
	grade, flags := CheckPhoto(in)
	require.Empty(t, flags, "08:20 in UTC+1 is 07:20 UTC, five minutes before it came in")
	require.Equal(t, GradeA, grade)
}

func TestStrippedPictureSaysWhatWouldLiftIt(t *testing.T) {
	t.Parallel()
	in := fenced(Capture{Type: "jpeg", Width: 1280, Height: 720}, "Q/North")
	in.Photo.LabelSeen = true
	grade, flags := CheckPhoto(in)
	require.Equal(t, []string{FlagNoMetadata}, codes(flags))
	require.Equal(t, GradeC, grade)
	require.Contains(t, flags[0].Text, "original file from the phone would lift the grade")
	require.True(t, TimeUncertain(flags))
}

func TestPlaceAndTimeBothInDoubtNeedALabel(t *testing.T) {
	t.Parallel()
	in := summerTime()
	weak := 80.0
	in.Photo.Capture.HErrorM = &weak
	grade, flags := CheckPhoto(in)
	require.Equal(t, []string{FlagPlaceNotProven, FlagClockAhead, FlagPlaceAndTime}, codes(flags))
	require.Equal(t, GradeC, grade)
	in.Photo.LabelSeen = true
	grade, _ = CheckPhoto(in)
	require.Equal(t, GradeB, grade)
}

func TestPositionAgainstTheWallItself(t *testing.T) {
	t.Parallel()
	_, flags := CheckPhoto(fenced(shot(12, -9, -1, 5), "M/South"))
	require.Equal(t, []string{FlagFarFromWall}, codes(flags), "75 m off, good to 5 m")
	_, flags = CheckPhoto(fenced(shot(12, -9, -1, 5), "Q/North"))
	require.Equal(t, []string{FlagBehindWall}, codes(flags))
	_, flags = CheckPhoto(fenced(shot(12, -9, -1, 30), "Q/North"))
	require.Empty(t, flags, "within the error of the position")
	_, flags = CheckPhoto(fenced(shot(12, 17, 178, 0), "Q/North"))
	require.Empty(t, flags, "no accuracy stated, inside the fence")
	_, flags = CheckPhoto(fenced(shot(12, 134, 178, 0), "M/North"))
	require.Equal(t, []string{FlagPlaceNotProven}, codes(flags))
	require.Contains(t, flags[0].Text, "60 m assumed")
}

func TestOutsideByMoreThanTheAccuracyIsRefused(t *testing.T) {
	t.Parallel()
	grade, _ := CheckPhoto(fenced(shot(12, 125, 178, 40), "")) // 41 m outside
	require.Equal(t, GradeX, grade)
	grade, _ = CheckPhoto(fenced(shot(12, 125, 178, 42), ""))
	require.Equal(t, GradeB, grade)
}

func TestRakingViewsAndPoorCompassesAreNoFault(t *testing.T) {
	t.Parallel()
	for _, heading := range []float64{100, 178, 260, 285} {
		_, flags := CheckPhoto(fenced(shot(12, 17, heading, 5), "Q/North"))
		require.Empty(t, flags, heading)
	}
	in := fenced(shot(12, 17, 300, 5), "Q/North")
	in.Photo.Capture.DirectionBy = "M"
	_, flags := CheckPhoto(in)
	require.Equal(t, []string{FlagLookedAway}, codes(flags))
	require.Contains(t, flags[0].Text, "turned by the declination")
}

func TestFenceIsDerivedFromOutlinesWhenThereIsNone(t *testing.T) {
	t.Parallel()
	at := func(x, y float64) LonLat { return near(XY{x, y})[0] }
	for _, c := range []struct {
		fence []LonLat
		at    LonLat
		want  float64
	}{
		{nil, at(12, 4), 0},
		{nil, at(12, -29), 0},
		{nil, at(12, -71), 41},
		{nil, at(-63, 78), math.Hypot(63, 4) - 30}, // nearest is the corner at (0, 74)
		{near(rect(-10, -10, 44, 94)...), at(12, -51), 41},
		{near(reversed(rect(-10, -10, 44, 94))...), at(12, 50), 0},
	} {
		got, ok := OutsideFence(c.at, c.fence, terraces())
		require.True(t, ok)
		require.InDelta(t, c.want, got, 0.01)
	}
	far, ok := OutsideFence(LonLat{177.7549, -53.4795}, nil, terraces())
	require.True(t, ok)
	require.Greater(t, far, 19_000_000.0)
	_, ok = OutsideFence(at(0, 0), nil, nil)
	require.False(t, ok)

	in := fenced(shot(12, 17, 178, 5), "")
	in.Fence, in.Buildings = nil, nil
	grade, flags := CheckPhoto(in)
	require.Equal(t, []string{FlagPlaceUnchecked}, codes(flags))
	require.Equal(t, GradeB, grade)
}

func TestFlagsObserveAndNeverAccuse(t *testing.T) {
	t.Parallel()
	ins := []PhotoCheck{
		summerTime(), fenced(Capture{}, "Q/North"), fenced(shot(12, 298, 12, 8), "Q/North"),
		fenced(shot(12, 125, 178, 65), "Q/South"), fenced(shot(12, -9, 3, 5), "M/South"),
	}
	for _, in := range ins {
		grade, flags := CheckPhoto(in)
		require.NotEmpty(t, flags)
		again, flagsAgain := CheckPhoto(in)
		require.Equal(t, grade, again)
		require.Equal(t, flags, flagsAgain)
		for _, f := range flags {
			for _, word := range []string{"fake", "forged", "fraud", "cheat", "manipulat", "lie ", "false"} {
				require.NotContains(t, strings.ToLower(f.Text), word)
			}
			require.LessOrEqual(t, f.Caps, grade)
		}
	}
}
