package register_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/reference"
	"storeyrod/defects/register"
)

func TestAProjectsScheduleGetsTheNextVersionAndIsInForceWhenChosen(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	p := f.site("Quarry Lane", builtIn(t))
	other := f.site("Mill Lane")
	for want := 1; want <= 2; want++ {
		s, err := f.AddSchedule(f.ctx(), p.designer, p.site.ID, strings.NewReader(ownSchedule("project-joints", "12")))
		require.NoError(t, err)
		require.Equal(t, want, s.Version)
	}
	_, err := f.AddSchedule(f.ctx(), p.clerk, p.site.ID, strings.NewReader(ownSchedule("project-joints", "12")))
	refused(t, err, defects.Forbidden, "role_forbidden")
	_, err = f.AddSchedule(f.ctx(), p.designer, p.site.ID, strings.NewReader(ownSchedule(builtIn(t), "12")))
	refused(t, err, defects.Conflict, "name_taken")
	_, err = f.AddSchedule(f.ctx(), p.designer, p.site.ID, strings.NewReader(`{"name":"x","limits":[]}`))
	refused(t, err, defects.Invalid, "bad_schedule")

	inForce, all, err := f.SchedulesOf(f.ctx(), p.auditor, p.site.ID)
	require.NoError(t, err)
	require.Len(t, inForce, 1)
	require.Len(t, all, len(reference.Schedules())+2)

	s, err := f.UpdateSite(f.ctx(), p.designer, p.site.ID, 1, register.SitePatch{Schedules: &[]string{"project-joints", builtIn(t)}})
	require.NoError(t, err)
	require.Equal(t, []string{"project-joints@2", builtIn(t) + "@1"}, s.Schedules)
	inForce, _, err = f.SchedulesOf(f.ctx(), p.auditor, p.site.ID)
	require.NoError(t, err)
	require.Equal(t, "project-joints", inForce[0].Name)
	require.Equal(t, 2, inForce[0].Version)

	_, err = f.UpdateSite(f.ctx(), other.designer, other.site.ID, 1, register.SitePatch{Schedules: &[]string{"project-joints"}})
	refused(t, err, defects.Invalid, "unknown_schedule")
}

// ownSchedule is a project's schedule of one invented limit.
func ownSchedule(name, upper string) string {
	s, err := reference.EncodeSchedule(defects.Schedule{
		Name: name, Version: 1, Title: "invented project specification", Edition: "A", Basis: defects.Project,
		Limits: []defects.Limit{{
			Quantity: "joint_width_bed", Kind: defects.FixedLimit, Clause: "1", Line: "joints",
			Lower: ptr(defects.MustDecimal("8")), Upper: ptr(defects.MustDecimal(upper)),
		}},
	})
	if err != nil {
		panic(err)
	}
	return string(s)
}

func TestReadingsAreJudgedByTheVersionThatWasChosen(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	p := f.site("Quarry Lane")
	_, err := f.AddSchedule(f.ctx(), p.designer, p.site.ID, strings.NewReader(ownSchedule("own", "12")))
	require.NoError(t, err)
	_, err = f.UpdateSite(f.ctx(), p.designer, p.site.ID, 1, register.SitePatch{Schedules: &[]string{"own"}, Rule: ptr(defects.Simple)})
	require.NoError(t, err)
	_, err = f.AddSchedule(f.ctx(), p.designer, p.site.ID, strings.NewReader(ownSchedule("own", "10")))
	require.NoError(t, err)
	read := func() defects.Verdict {
		res, err := f.AddReading(f.ctx(), p.clerk, p.site.ID, register.ReadingInput{
			Quantity: "joint_width_bed", Value: "11", Unit: "mm", MeasuredAt: "2026-06-01T11:00:00Z",
		})
		require.NoError(t, err)
		require.Nil(t, res.Err)
		return res.Reading.Verdict
	}
	v := read()
	require.Equal(t, "own@1", v.Schedule)
	require.Equal(t, defects.Pass, v.Outcome)
	_, err = f.UpdateSite(f.ctx(), p.designer, p.site.ID, 2, register.SitePatch{Schedules: &[]string{"own@2"}})
	require.NoError(t, err)
	v = read()
	require.Equal(t, "own@2", v.Schedule)
	require.Equal(t, defects.Fail, v.Outcome)

	// Another site's schedule of the same name and version is another one.
	other := f.site("Mill Lane")
	_, err = f.AddSchedule(f.ctx(), other.designer, other.site.ID, strings.NewReader(ownSchedule("own", "9")))
	require.NoError(t, err)
	_, err = f.UpdateSite(f.ctx(), other.designer, other.site.ID, 1, register.SitePatch{Schedules: &[]string{"own"}, Rule: ptr(defects.Simple)})
	require.NoError(t, err)
	res, err := f.AddReading(f.ctx(), other.clerk, other.site.ID, register.ReadingInput{
		Quantity: "joint_width_bed", Value: "11", Unit: "mm", MeasuredAt: "2026-06-01T11:00:00Z",
	})
	require.NoError(t, err)
	require.Equal(t, defects.Fail, res.Reading.Verdict.Outcome)
}

// builtIn is the name of some built-in schedule of version 1.
func builtIn(t *testing.T) string {
	t.Helper()
	for _, s := range reference.Schedules() {
		if s.Version == 1 {
			return s.Name
		}
	}
	t.Fatal("there is no built-in schedule")
	return ""
}
