package register_test

import (
	"bytes"
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/reference"
	"storeyrod/defects/register"
)

// readingBed is a site with one building and a schedule of its own in force, as
// the worked jobs of the reference assume. All of it is invented.
type readingBed struct {
	*fixture
	people
	walls []defects.Elevation
	north defects.Elevation
}

func newReadingBed(t *testing.T, limits ...defects.Limit) *readingBed {
	t.Helper()
	return newReadingBedOn(t, newFixture(t), limits...)
}

// onEachBed runs fn on SQLite and on PostgreSQL.
func onEachBed(t *testing.T, fn func(t *testing.T, b *readingBed), limits ...defects.Limit) {
	t.Helper()
	onEach(t, func(t *testing.T, f *fixture) { fn(t, newReadingBedOn(t, f, limits...)) })
}

func newReadingBedOn(t *testing.T, f *fixture, limits ...defects.Limit) *readingBed {
	t.Helper()
	b := &readingBed{fixture: f, people: f.site("Quarry Terrace")}
	b.walls = f.walls(b.people, "Long Row")
	for _, e := range b.walls {
		if e.Name == "North" {
			b.north = e
		}
	}
	require.NotEmpty(t, b.north.ID)
	b.inForce(limits...)
	return b
}

// inForce makes the limits the next version of the site's schedule and governs
// by it alone.
func (b *readingBed) inForce(limits ...defects.Limit) {
	b.t.Helper()
	if len(limits) == 0 {
		limits = jobLimits("0.50")
	}
	doc, err := reference.EncodeSchedule(defects.Schedule{
		Name: "job-sheet", Version: 1, Title: "Job sheet of Quarry Terrace (invented)", Basis: defects.Project, Limits: limits,
	})
	require.NoError(b.t, err)
	s, err := b.AddSchedule(b.ctx(), b.designer, b.people.site.ID, bytes.NewReader(doc))
	require.NoError(b.t, err)
	b.change(register.SitePatch{Schedules: &[]string{defects.ScheduleRef(s)}})
}

func (b *readingBed) change(p register.SitePatch) {
	b.t.Helper()
	now, err := b.Site(b.ctx(), b.designer, b.people.site.ID)
	require.NoError(b.t, err)
	b.people.site, err = b.UpdateSite(b.ctx(), b.designer, b.people.site.ID, now.Version, p)
	require.NoError(b.t, err)
}

// jobLimits are the limits named in the worked jobs: joints 10 ± 3 mm, laps of
// 100 mm, flatness of a finished wall, pull-out with a required value in kN.
func jobLimits(required string) []defects.Limit {
	rule := defects.DefaultPullOutRule()
	rule.Required = dec(required)
	return []defects.Limit{
		{Quantity: "joint_width_bed", Kind: defects.FixedLimit, Lower: dec("7"), Upper: dec("13")},
		{Quantity: "mesh_lap", Kind: defects.FixedLimit, Lower: dec("100")},
		{Quantity: "pull_out_load", Kind: defects.PullOutLimit, PullOut: &rule},
		{
			Quantity: "flatness", Kind: defects.InterpolatedLimit, Whole: true, Line: "6",
			Steps: []defects.LimitStep{
				{UpTo: dec("1"), Figure: dec("5")},
				{UpTo: dec("4"), Figure: dec("10")},
				{UpTo: dec("10"), Figure: dec("20")},
				{UpTo: dec("15"), Figure: dec("25")},
			},
		},
	}
}

func dec(s string) *defects.Decimal {
	d := defects.MustDecimal(s)
	return &d
}

// tool adds an instrument; u may be empty.
func (b *readingBed) tool(name, unit, u string, certificates ...defects.Calibration) defects.Instrument {
	b.t.Helper()
	n := register.NewInstrument{Name: name, Kind: name, Unit: unit}
	if u != "" {
		n.Expanded = dec(u)
	}
	tool, err := b.AddInstrument(b.ctx(), b.clerk, b.people.site.ID, n)
	require.NoError(b.t, err)
	for _, c := range certificates {
		tool, err = b.AddCalibration(b.ctx(), b.clerk, b.people.site.ID, tool.ID, tool.Version, c)
		require.NoError(b.t, err)
	}
	return tool
}

// all adds readings of one quantity that differ by value only, all of which
// must be taken, and answers them in order.
func (b *readingBed) all(common register.ReadingInput, values ...string) []register.ReadingResult {
	b.t.Helper()
	in := make([]register.ReadingInput, len(values))
	for i, v := range values {
		in[i] = common
		in[i].Value = v
	}
	results, err := b.AddReadings(b.ctx(), b.clerk, b.people.site.ID, in)
	require.NoError(b.t, err)
	require.Len(b.t, results, len(values))
	for i, res := range results {
		require.Nil(b.t, res.Err, "row %d: %v", i+1, res.Err)
		require.Equal(b.t, i+1, res.Row)
	}
	return results
}

func outcomes(results []register.ReadingResult) []defects.Outcome {
	out := make([]defects.Outcome, len(results))
	for i, r := range results {
		out[i] = r.Reading.Verdict.Outcome
	}
	return out
}

// follow lists the follow-ups of the site as "kind quantity", with a count.
func (b *readingBed) follow() map[string]int {
	b.t.Helper()
	list, err := b.FollowUps(b.ctx(), b.clerk, b.people.site.ID, "")
	require.NoError(b.t, err)
	n := map[string]int{}
	for _, f := range list {
		n[f.Kind+" "+f.Quantity]++
	}
	return n
}

// kinds counts the entries of the site's log by kind.
func (b *readingBed) kinds() map[string]int {
	b.t.Helper()
	n := map[string]int{}
	for _, e := range b.logged(b.people.site.ID) {
		n[e.Kind]++
	}
	return n
}

// stored counts the readings in the database.
func (b *readingBed) stored() int {
	b.t.Helper()
	n, after := 0, ""
	for {
		page, err := b.ListReadings(b.ctx(), b.clerk, register.ReadingFilter{SiteID: b.people.site.ID}, register.Page{Limit: 500, After: after})
		require.NoError(b.t, err)
		n += len(page.Items)
		if page.Next == "" {
			return n
		}
		after = page.Next
	}
}
