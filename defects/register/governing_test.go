package register_test

import (
	"bytes"
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/reference"
	"storeyrod/defects/register"
)

func TestTheFirstScheduleWithALimitGoverns(t *testing.T) {
	t.Parallel()
	b := newReadingBed(t) // job-sheet@1: joints 7 to 13, pull-out 0.50
	doc, err := reference.EncodeSchedule(defects.Schedule{
		Name: "designers-note", Version: 1, Title: "Designer's note of Quarry Terrace (invented)", Basis: defects.Project,
		Limits: []defects.Limit{{Quantity: "joint_width_bed", Kind: defects.FixedLimit, Lower: dec("9"), Upper: dec("11")}},
	})
	require.NoError(t, err)
	_, err = b.AddSchedule(b.ctx(), b.designer, b.people.site.ID, bytes.NewReader(doc))
	require.NoError(t, err)
	b.change(register.SitePatch{Schedules: &[]string{"designers-note", "job-sheet"}})

	joint := b.all(register.ReadingInput{Quantity: "joint_width_bed", Unit: "mm", Expanded: "0.1"}, "12")[0].Reading.Verdict
	require.Equal(t, defects.Fail, joint.Outcome)
	require.Equal(t, "designers-note@1", joint.Schedule)
	lap := b.all(register.ReadingInput{Quantity: "mesh_lap", Unit: "mm", Expanded: "3"}, "120")[0].Reading.Verdict
	require.Equal(t, defects.Pass, lap.Outcome)
	require.Equal(t, "job-sheet@1", lap.Schedule)

	set := b.pullOutSet("east, solid brick")
	b.all(register.ReadingInput{Quantity: "pull_out_load", Unit: "kN", SetID: set.ID}, pullOutPeaks()...)
	now, _ := b.set(set.ID)
	require.Equal(t, defects.Pass, now.Verdict.Outcome)
	require.Equal(t, "job-sheet@1", now.Verdict.Schedule)

	b.change(register.SitePatch{Schedules: &[]string{"designers-note"}})
	b.all(register.ReadingInput{Quantity: "pull_out_load", Unit: "kN", SetID: set.ID}, "1.2")
	now, _ = b.set(set.ID)
	require.Equal(t, defects.NoVerdict, now.Verdict.Outcome)
	require.Equal(t, defects.ReasonNoLimit, now.Verdict.Reason)

	b.change(register.SitePatch{Schedules: &[]string{}})
	bare := b.all(register.ReadingInput{Quantity: "mesh_lap", Unit: "mm"}, "120")[0]
	require.Equal(t, defects.ReasonNoLimit, bare.Reading.Verdict.Reason)
	require.Contains(t, bare.FollowUp.Text, "no limit")
}

func TestAQuantityWithoutALimitNamesWhatWouldSupplyOne(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	p := f.site("Quarry Lane") // nobody chose a schedule, and none is in force
	require.Empty(t, p.site.Schedules)
	add := func(quantity, unit string) defects.Verdict {
		res, err := f.AddReading(f.ctx(), p.clerk, p.site.ID, register.ReadingInput{Quantity: quantity, Value: "11", Unit: unit})
		require.NoError(t, err)
		require.Equal(t, defects.ReasonNoLimit, res.Reading.Verdict.Reason)
		return res.Reading.Verdict
	}
	require.Contains(t, add("joint_width_bed", "mm").ReasonText, "ewi-common-practice")
	require.NotContains(t, add("moisture_index", "index").ReasonText, "ewi-common-practice", "it has none for this")
	set, err := f.CreateSet(f.ctx(), p.clerk, p.site.ID, register.NewSet{Quantity: "pull_out_load", Name: "east"})
	require.NoError(t, err)
	require.Equal(t, defects.ReasonNoLimit, set.Verdict.Reason)
}
