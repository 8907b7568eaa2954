package defects

import (
	"math"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestOffsetsAreReadAsTheyStandOnTheWall(t *testing.T) {
	t.Parallel()
	for name, text := range map[string]string{
		"commas":     "7,8,9\n1,,3.50\n",
		"semicolons": "7;8;9\n1;-;3.50",
		"a sheet":    "\ufeff7\t8\t9\r\n1\t \t3.50\r\n\r\n",
	} {
		g, kept, err := ParseOffsets(text)
		require.NoError(t, err, name)
		require.Equal(t, []int{3, 2}, []int{g.Columns, g.Rows})
		require.Equal(t, "7,8,9\n1,,3.50", kept, "places stay as typed")
		require.Equal(t, 1.0, g.At(0, 0), "the last line is the bottom row")
		require.Equal(t, 9.0, g.At(2, 1))
		require.True(t, math.IsNaN(g.At(1, 0)))
		again, same, err := ParseOffsets(kept)
		require.NoError(t, err)
		require.Equal(t, kept, same)
		require.Equal(t, g.At(2, 0), again.At(2, 0))
	}
}

func TestOffsetsThatAreNoneAreRefusedWithTheirCell(t *testing.T) {
	t.Parallel()
	for text, want := range map[string][2]string{
		"":                           {"no_offsets", "no offsets"},
		",\n,":                       {"no_offsets", "no point was taken"},
		"1,2\n3":                     {"bad_grid", "row 2 has 1 cells and the first row 2"},
		"1,2\n3,x":                   {"bad_offset", "row 2, cell 2"},
		"1;2,5":                      {"bad_offset", "row 1, cell 2"},
		"0.0001":                     {"bad_offset", "thousandth"},
		"10001":                      {"bad_offset", "10 m"},
		"NaN":                        {"bad_offset", "row 1, cell 1"},
		"1,\xff":                     {"not_utf8", "UTF-8"},
		strings.Repeat("1,", 40_000): {"bad_grid", "at most"},
		strings.Repeat(strings.Repeat("1,", 300)+"1\n", 200): {"bad_grid", "at most"},
	} {
		_, _, err := ParseOffsets(text)
		var e *Error
		require.ErrorAs(t, err, &e)
		require.Equal(t, want[0], e.Code)
		require.Contains(t, e.Text, want[1])
		require.Equal(t, "offsets", e.Field)
	}
	_, _, err := ParseOffsets(strings.Repeat("1", MaxSurveyBytes+1))
	require.ErrorIs(t, err, TooLarge)
}

func FuzzParseOffsets(f *testing.F) {
	for _, text := range []string{"1,2\n3,4", "1;2\n-;3", "1\t2\r\n", "", ",,", "1e3", "-0.000", "\ufeff1"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		g, kept, err := ParseOffsets(text)
		if err != nil {
			require.ErrorAs(t, err, new(*Error))
			return
		}
		g.DX, g.DZ = 1, 1
		require.NoError(t, g.Check())
		again, same, err := ParseOffsets(kept)
		require.NoError(t, err)
		require.Equal(t, kept, same, "what is stored is read as it was")
		require.Equal(t, g.Known(), again.Known())
	})
}

func TestASurveyLiesOnItsElevation(t *testing.T) {
	t.Parallel()
	wall := Elevation{ID: "e", Length: 10_000, Height: 6000, BaseLine: 300}
	ok := Survey{Columns: 5, Rows: 4, DX: 2000, DZ: 1000, X: 1000, Z: -200, Longest: 2000}
	require.NoError(t, CheckSurvey(wall, ok))
	for field, change := range map[string]func(*Survey){
		"dx_m":           func(s *Survey) { s.DX = 49 },
		"dz_m":           func(s *Survey) { s.DZ = 0 },
		"straightedge_m": func(s *Survey) { s.Longest = 0 },
		"x_m":            func(s *Survey) { s.X = 2001 },
		"z_m":            func(s *Survey) { s.Z = -301 },
	} {
		s := ok
		change(&s)
		err := CheckSurvey(wall, s)
		var e *Error
		require.ErrorAs(t, err, &e, field)
		require.Equal(t, field, e.Field)
	}
	require.Equal(t, MM(3000), *ok.Place(GridPoint{1, 2}).X)
	require.Equal(t, MM(1800), *ok.Place(GridPoint{1, 2}).Z)
}

// A limit listed for a straightedge of 2 m is held against the largest gap under
// one, also where the high points lie closer.
func TestAListedLimitIsHeldAgainstTheStraightedgeItNames(t *testing.T) {
	t.Parallel()
	two := DecimalOf(2)
	listed := compiled(t, Limit{Quantity: "flatness", Kind: ListedLimit, Steps: []LimitStep{{UpTo: &two, Figure: exact("5")}}})
	s := Survey{
		Columns: 5, Rows: 1, DX: 500, DZ: 500, Longest: 2000,
		Offsets: "0,0,-6,0,0", Judged: SurveyJudged{Rule: Simple},
	}
	v, err := JudgeStored(s, s.Judged, []*Limits{listed})
	require.NoError(t, err)
	require.Len(t, v.Flatness, 1)
	require.Equal(t, Fail, v.Flatness[0].Verdict.Outcome, "6 mm between high points 1 m apart, under a straightedge of 2 m")
	s.Judged.Keep(v)
	require.Equal(t, "6.000", s.Judged.Flatness.Value.String())
	require.Equal(t, GridPoint{2, 0}, s.Judged.Flatness.At)
	require.Equal(t, NoVerdict, s.Judged.Plumb.Verdict.Outcome)
	require.Nil(t, s.Judged.Plumb.Value, "one row has no plumb")
	s.Longest = 1000
	v, err = JudgeStored(s, s.Judged, []*Limits{listed})
	require.NoError(t, err)
	require.Equal(t, ReasonBaseLengthOutside, v.Flatness[0].Verdict.Reason)
}

func TestTheWorstFindingIsTheOneThatUsesMostOfItsLimit(t *testing.T) {
	t.Parallel()
	// Line 6 over 0.8 m allows 5 (4.56 rounded), over 2 m 7: 4 of 5 goes before 5 of 7.
	s := Survey{Columns: 9, Rows: 1, DX: 400, DZ: 400, Longest: 4000, Offsets: "0,-4,0,20,20,15,15,20,20", Judged: SurveyJudged{Rule: Simple}}
	v, err := JudgeStored(s, s.Judged, []*Limits{compiled(t, line6())})
	require.NoError(t, err)
	s.Judged.Keep(v)
	require.Equal(t, "5", s.Judged.Flatness.Verdict.Upper.String())
}

func TestADifferenceOfTwoOffsetsIsLessCertainThanOne(t *testing.T) {
	t.Parallel()
	require.Nil(t, DifferenceUncertainty(nil))
	require.Equal(t, "1.415", DifferenceUncertainty(exact("1")).String())
	require.Equal(t, "0.000", DifferenceUncertainty(exact("0")).String())
}

func TestFiguresOfASurveyAgreeWithTheirParts(t *testing.T) {
	t.Parallel()
	g := gridOf(5, 5, 1, 1, func(x, z float64) float64 { return 4*z + 2*x })
	g.Offsets[12] -= 7
	f, err := g.Figures(DubBestFit, 0)
	require.NoError(t, err)
	want, err := g.Fit()
	require.NoError(t, err)
	require.Equal(t, want, *f.Plane)
	require.Len(t, f.Gaps, 3)
	require.InDelta(t, 7, f.Gaps[2].Depth, 1e-9)
	upright, err := g.Figures(DubPlumb, 3)
	require.NoError(t, err)
	require.Zero(t, upright.Dubbing.Target.Lean)
	require.Greater(t, upright.Dubbing.Volume, f.Dubbing.Volume, "an upright plane needs more than the lean of the wall")
	require.LessOrEqual(t, upright.Dubbing.CutBack, 3+1e-9)
	line := Grid{Columns: 3, Rows: 1, DX: 1, DZ: 1, Offsets: []float64{0, -1, 0}}
	f, err = line.Figures(DubPlumb, 0)
	require.NoError(t, err)
	require.Nil(t, f.Plane)
	require.Contains(t, f.Why, "in one line")
	_, err = g.Figures("level", 0)
	require.ErrorIs(t, err, Invalid)
}

func TestContourLevelsAreFewAndRound(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		lo, hi float64
		want   []float64
	}{
		{-2.5, 1, []float64{-2, -1, 0, 1}},
		{0, 20, []float64{0, 2, 4, 6, 8, 10, 12, 14, 16, 18, 20}},
		{-30, 28, []float64{-30, -25, -20, -15, -10, -5, 0, 5, 10, 15, 20, 25}},
		{3, 3, nil},
	} {
		g := Grid{Columns: 2, Rows: 1, DX: 1, DZ: 1, Offsets: []float64{c.lo, c.hi}}
		require.Equal(t, c.want, g.ContourLevels(), "%v to %v", c.lo, c.hi)
	}
	none := Grid{Columns: 1, Rows: 1, Offsets: []float64{math.NaN()}}
	require.Empty(t, none.ContourLevels())
}

// BenchmarkSurveyWhole is all that entering and showing a survey of 100 × 100
// points works out: offsets from text, every finding, plane, gaps, packing, lines.
func BenchmarkSurveyWhole(b *testing.B) {
	g := rough(1, 100, 100, 0.05)
	lines := make([]string, g.Rows)
	for r := range lines {
		cells := make([]string, g.Columns)
		for c := range cells {
			if v := g.At(c, g.Rows-1-r); !math.IsNaN(v) {
				cells[c] = strconv.FormatFloat(v, 'f', 1, 64)
			}
		}
		lines[r] = strings.Join(cells, ",")
	}
	limits, err := Compile(Schedule{
		Name: "s", Version: 1, Title: "t", Basis: Project,
		Limits: []Limit{line6(), {Quantity: "plumb", Kind: FixedLimit, Lower: exact("-8"), Upper: exact("8")}},
	})
	if err != nil {
		b.Fatal(err)
	}
	s := Survey{Columns: 100, Rows: 100, DX: 250, DZ: 200, Longest: 4000, Offsets: strings.Join(lines, "\n"), Judged: SurveyJudged{Rule: FourWay, Expanded: exact("1")}}
	for b.Loop() {
		v, err := JudgeStored(s, s.Judged, []*Limits{limits})
		if err != nil {
			b.Fatal(err)
		}
		s.Judged.Keep(v)
		g, _ := s.Grid()
		if _, err := g.Figures(DubPlumb, 2); err != nil {
			b.Fatal(err)
		}
		if _, err := g.Contours(g.ContourLevels()...); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(b.Elapsed().Seconds()/float64(b.N), "s/survey(hold:1)")
}
