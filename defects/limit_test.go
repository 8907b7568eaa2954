package defects

import (
	"errors"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestAScheduleWithAFaultIsRefusedAtTheLimitThatHasIt(t *testing.T) {
	t.Parallel()
	one := exact("1")
	for name, c := range map[string]struct {
		limits []Limit
		says   string
	}{
		"unknown quantity":    {[]Limit{{Quantity: "mood", Kind: FixedLimit, Upper: one}}, "unknown quantity"},
		"unknown kind":        {[]Limit{{Quantity: "mesh_lap", Kind: "vague", Upper: one}}, "unknown kind"},
		"unknown zone":        {[]Limit{{Quantity: "mesh_lap", Kind: FixedLimit, Zone: "roof", Upper: one}}, "unknown zone"},
		"no figure":           {[]Limit{{Quantity: "mesh_lap", Kind: FixedLimit}}, "lower or an upper"},
		"crossed figures":     {[]Limit{{Quantity: "mesh_lap", Kind: FixedLimit, Lower: exact("2"), Upper: one}}, "above"},
		"no plane to except":  {[]Limit{{Quantity: "mesh_lap", Kind: FixedLimit, Lower: one, ExceptPlane: "x"}}, "failure plane"},
		"negative courses":    {[]Limit{{Quantity: "course_gauge", Kind: FixedLimit, Courses: -4, Lower: one}}, "courses"},
		"no steps":            {[]Limit{{Quantity: "plumb", Kind: SteppedLimit}}, "columns"},
		"one column":          {[]Limit{{Quantity: "flatness", Kind: InterpolatedLimit, Steps: columns("1", "5")}}, "2 columns"},
		"descending lengths":  {[]Limit{{Quantity: "plumb", Kind: SteppedLimit, Steps: columns("2", "1", "1", "2")}}, "ascend"},
		"repeated length":     {[]Limit{{Quantity: "plumb", Kind: ListedLimit, Steps: columns("2", "1", "2", "2")}}, "ascend"},
		"length of nothing":   {[]Limit{{Quantity: "plumb", Kind: ListedLimit, Steps: columns("0", "1")}}, "above 0 m"},
		"falling figures":     {[]Limit{{Quantity: "flatness", Kind: InterpolatedLimit, Steps: columns("1", "5", "2", "4")}}, "fall"},
		"negative figure":     {[]Limit{{Quantity: "plumb", Kind: SteppedLimit, Steps: columns("1", "-5")}}, "negative"},
		"open step inside":    {[]Limit{{Quantity: "plumb", Kind: SteppedLimit, Steps: []LimitStep{{Figure: one}, {UpTo: one, Figure: one}}}}, "no base length"},
		"open listed step":    {[]Limit{{Quantity: "plumb", Kind: ListedLimit, Steps: []LimitStep{{Figure: one}}}}, "no base length"},
		"missing figure":      {[]Limit{{Quantity: "plumb", Kind: ListedLimit, Steps: []LimitStep{{UpTo: one}}}}, "no figure"},
		"no figure anywhere":  {[]Limit{{Quantity: "plumb", Kind: SteppedLimit, Steps: []LimitStep{{UpTo: one}}}}, "needs a figure"},
		"pro rata of nothing": {[]Limit{{Quantity: "bed_joint_level", Kind: ProRataLimit, Figure: one}}, "pro-rata"},
		"larger of nothing":   {[]Limit{{Quantity: "position", Kind: LargerOfLimit, Figure: one}}, "larger-of"},
		"no density":          {[]Limit{{Quantity: "fixing_count_board", Kind: DensityLimit}}, "density"},
		"no mean figure":      {[]Limit{{Quantity: "joint_width_bed", Kind: MeanOfEightLimit}}, "mean-of-eight"},
		"no mean minimum":     {[]Limit{{Quantity: "base_coat_depth_dry", Kind: SetMinimumLimit, Lower: one}}, "set minimum"},
		"no pull-out rule":    {[]Limit{{Quantity: "pull_out_load", Kind: PullOutLimit}}, "its rule"},
		"bad pull-out rule":   {[]Limit{{Quantity: "pull_out_load", Kind: PullOutLimit, PullOut: &PullOutRule{}}}, "factor"},
		"overlap":             {[]Limit{jointLimit(), jointLimit()}, "overlaps"},
		"ambiguous overlap": {[]Limit{
			{Quantity: "mesh_lap", Kind: FixedLimit, Zone: Edge, Lower: one},
			{Quantity: "mesh_lap", Kind: FixedLimit, Stage: "BM", Lower: one},
		}, "overlaps"},
	} {
		_, err := Compile(Schedule{Name: "t", Version: 1, Title: "invented", Basis: Project, Limits: c.limits})
		var refused *Error
		require.True(t, errors.As(err, &refused), name)
		require.Equal(t, "bad_schedule", refused.Code, name)
		require.Contains(t, refused.Text, c.says, name)
		require.True(t, strings.HasPrefix(refused.Field, "limits["), name)
	}
}

func TestALimitWithoutASourceIsRefused(t *testing.T) {
	t.Parallel()
	for name, s := range map[string]Schedule{
		"no title":                   {Basis: Project},
		"no basis":                   {Title: "invented"},
		"unknown basis":              {Title: "invented", Basis: "hearsay"},
		"published without edition":  {Title: "invented", Basis: Read},
		"remembered without edition": {Title: "invented", Basis: Memory},
	} {
		s.Name, s.Version, s.Limits = "t", 1, []Limit{jointLimit()}
		_, err := Compile(s)
		require.ErrorIs(t, err, Invalid, name)
		require.Contains(t, err.Error(), "limits[0]", name)
	}
	own := jointLimit()
	own.Title, own.Edition, own.Clause, own.Line, own.Basis = "invented text", "2026", "4.2", "line 1", Read
	l, err := Compile(Schedule{Name: "t", Version: 2, Title: "t", Basis: Project, Limits: []Limit{own}})
	require.NoError(t, err)
	v := Judge(measured("joint_width_bed", "9", ""), l, Simple, Decimal{})
	require.Equal(t, []string{"t@2", "invented text", "2026", "4.2", "line 1", "read"},
		[]string{v.Schedule, v.Title, v.Edition, v.Clause, v.Line, string(v.Basis)})
}

func TestAScheduleNeedsANameAVersionAndLimits(t *testing.T) {
	t.Parallel()
	good := Schedule{Name: "t", Version: 1, Title: "invented", Basis: Project, Limits: []Limit{jointLimit()}}
	for field, change := range map[string]func(*Schedule){
		"name":    func(s *Schedule) { s.Name = "Not A Name" },
		"version": func(s *Schedule) { s.Version = 0 },
		"limits":  func(s *Schedule) { s.Limits = nil },
		"title":   func(s *Schedule) { s.Notes = strings.Repeat("x", 7000) },
	} {
		s := good
		change(&s)
		_, err := Compile(s)
		var refused *Error
		require.True(t, errors.As(err, &refused), field)
		require.Equal(t, field, refused.Field)
	}
	_, err := Compile(good)
	require.NoError(t, err)
}

func TestInterpolationIsExactAtTheHalves(t *testing.T) {
	t.Parallel()
	l := Limit{Kind: InterpolatedLimit, Whole: true, Steps: columns("1", "5", "3", "6")}
	for base, want := range map[string]string{"1": "5", "1.999999999": "5", "2": "6", "3": "6", "60": "6"} {
		got, ok := l.figureAt(MustDecimal(base))
		require.True(t, ok, base)
		require.Equal(t, want, got.String(), base)
	}
	l.Whole = false
	got, _ := l.figureAt(MustDecimal("2"))
	require.Equal(t, "5.5", got.String())
}

func TestAProRataLimitStopsAtItsLength(t *testing.T) {
	t.Parallel()
	l := Limit{Kind: ProRataLimit, Figure: exact("8"), PerLength: exact("5"), Beyond: exact("12")}
	for base, want := range map[string]string{"3": "4.8", "5": "8", "5.001": "12", "0.5": "0.8"} {
		got, ok := l.figureAt(MustDecimal(base))
		require.True(t, ok)
		require.Equal(t, want, got.String(), base)
	}
	l.Beyond = nil
	_, ok := l.figureAt(MustDecimal("6"))
	require.False(t, ok)
}

func TestABaseLengthWithoutAFigureIsToldWhichHaveOne(t *testing.T) {
	t.Parallel()
	eight := exact("8")
	for _, c := range []struct {
		limit Limit
		says  string
	}{
		{Limit{Kind: ListedLimit, Steps: columns("2", "6", "4", "8")}, "over 2 or 4 m"},
		{Limit{Kind: InterpolatedLimit, Steps: columns("25", "6", "40", "8")}, "over 25 m or more"},
		{Limit{Kind: ProRataLimit, Figure: eight, PerLength: exact("5")}, "over at most 5 m"},
		{
			Limit{Kind: SteppedLimit, Steps: []LimitStep{{exact("4"), eight}, {exact("20.5"), nil}, {exact("30"), eight}}},
			"over more than 0 m up to 4 m, or more than 20.5 m up to 30 m",
		},
		{
			Limit{Kind: SteppedLimit, Steps: []LimitStep{{exact("20.5"), nil}, {nil, eight}}},
			"over more than 20.5 m up to any length",
		},
	} {
		c.limit.Quantity = "plumb"
		in := measured("plumb", "1", "")
		in.BaseLength = exact("20")
		v := Judge(in, compiled(t, c.limit), Simple, Decimal{})
		require.Equal(t, ReasonBaseLengthOutside, v.Reason, c.says)
		require.Contains(t, v.ReasonText, c.says)
	}
}
