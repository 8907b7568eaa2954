package defects

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// Job J16: board 1.2 × 0.6 m, field 8 per m², 1 m of edge zone 12 per m².
func TestFixingsFollowTheZoneAndTheLargerNumberOnItsLine(t *testing.T) {
	t.Parallel()
	spans, err := EdgeSpans(12_000, 1000, DecimalOf(12), DecimalOf(8))
	require.NoError(t, err)
	require.Len(t, spans, 3)
	for name, c := range map[string]struct {
		left    MM
		counted int
		outcome Outcome
		zone    Zone
		needed  int
		short   int
	}{
		"field with six":            {3000, 6, Pass, Field, 6, 0},
		"field with five":           {3000, 5, Fail, Field, 6, 1},
		"0.4 m from the corner":     {400, 6, Fail, Edge, 9, 3},
		"across the line by a hair": {999, 9, Pass, Edge, 9, 0},
		"begins at the line":        {1000, 6, Pass, Field, 6, 0},
		"ends at the other line":    {9800, 6, Pass, Field, 6, 0},
		"across the other line":     {9801, 6, Fail, Edge, 9, 3},
		"off the wall":              {12_000, 9, NoVerdict, "", 0, 0},
	} {
		v, err := JudgeFixings(BoardCount{Left: c.left, Width: 1200, Height: 600, Counted: c.counted}, spans)
		require.NoError(t, err)
		require.Equal(t, c.outcome, v.Outcome, name)
		require.Equal(t, c.zone, v.Zone, name)
		require.Equal(t, c.needed, v.Needed, name)
		require.Equal(t, c.short, v.Short, name)
	}
	v, err := JudgeFixings(BoardCount{Left: 400, Width: 1200, Height: 600, Counted: 6}, spans)
	require.NoError(t, err)
	require.Equal(t, "short by 3: 6 of 9, 8.3/m2 against 12 in the edge zone", v.Text)
	require.Equal(t, "FX-02", KindForReading(Reading{Quantity: "fixing_count_board", Place: Place{Zone: v.Zone}}))
}

func TestFixingsRefuseWhatIsNoBoardOrPattern(t *testing.T) {
	t.Parallel()
	_, err := EdgeSpans(0, 1000, DecimalOf(12), DecimalOf(8))
	require.ErrorIs(t, err, Invalid)
	narrow, err := EdgeSpans(1800, 1000, DecimalOf(12), DecimalOf(8))
	require.NoError(t, err)
	require.Len(t, narrow, 1, "the edge zones meet")
	plain, err := EdgeSpans(1800, 0, DecimalOf(12), DecimalOf(8))
	require.NoError(t, err)
	require.Equal(t, Field, plain[0].Zone)
	for _, b := range []BoardCount{{Width: 0, Height: 600}, {Width: 1200, Height: -1}, {Width: 1200, Height: 600, Counted: -1}} {
		_, err = JudgeFixings(b, narrow)
		require.ErrorIs(t, err, Invalid)
	}
	_, err = JudgeFixings(BoardCount{Width: 1200, Height: 600}, []FixingSpan{{Edge, 0, 5000, Decimal{}}})
	require.ErrorIs(t, err, Invalid)
}

func TestAnchorsPerSquareMetreNeverFallBelowTheOrderedPattern(t *testing.T) {
	t.Parallel()
	for _, v := range toleranceVectors(t, "anchors-") {
		qp, nrk := v.decimal(t, "qp_kNm2"), v.decimal(t, "NRk_kN")
		nrd, ok := DecimalFromFloat(nrk.Float()/v.decimal(t, "gammaM").Float(), 9)
		require.True(t, ok)
		suction := qp.Mul(v.decimal(t, "cpe").Abs())
		got, err := AnchorsByZone([]ZoneAction{
			{Edge, suction, MustDecimal("6")}, {Field, suction, MustDecimal("4")},
		}, nrd, v.decimal(t, "gammaQ"))
		require.NoError(t, err)
		var want int
		v.expect(t, &want)
		require.Equal(t, want, got[0].ByLoad, "%s", v)
		require.Equal(t, int64(max(want, 6)), got[0].PerM2.Nano()/1e9, "%s: the ordered 6 stands", v)
		require.Equal(t, int64(want), got[1].PerM2.Nano()/1e9)
		require.Equal(t, "load", got[1].Governing)
	}
	_, err := AnchorsByZone(nil, Decimal{}, DecimalOf(1))
	require.ErrorIs(t, err, Invalid)
	_, err = AnchorsByZone([]ZoneAction{{Edge, Decimal{}, DecimalOf(6)}}, DecimalOf(1), DecimalOf(1))
	require.ErrorIs(t, err, Invalid)
}

// Job J9: 240 anchors, then 90.
func TestProofTestsEscalate(t *testing.T) {
	t.Parallel()
	d, err := ProofTests(ProofArea{Anchors: 240})
	require.NoError(t, err)
	require.Equal(t, []any{ProofFirst, 6, 6, false}, []any{d.Stage, d.Tests, d.More, d.Release})
	d, err = ProofTests(ProofArea{Anchors: 240, Tested: 6, Failed: 1})
	require.NoError(t, err)
	require.Equal(t, []any{ProofDoubled, 12, 6, true}, []any{d.Stage, d.Tests, d.More, d.CauseNeeded})
	require.Contains(t, d.Text, "cause")
	d, err = ProofTests(ProofArea{Anchors: 240, Tested: 8, Failed: 2, CauseNoted: true})
	require.NoError(t, err)
	require.Equal(t, []any{ProofAll, 240, 232, true, false}, []any{d.Stage, d.Tests, d.More, d.InformDesigner, d.Release})
	_, known := d.ProofLoad(MustDecimal("0.5"))
	require.False(t, known)
	d, err = ProofTests(ProofArea{Anchors: 90})
	require.NoError(t, err)
	require.Equal(t, 3, d.Tests)
	d, err = ProofTests(ProofArea{Anchors: 240, Tested: 6})
	require.NoError(t, err)
	require.True(t, d.Release)
	d, err = ProofTests(ProofArea{Anchors: 240, Tested: 12, Failed: 1, CauseNoted: true})
	require.NoError(t, err)
	require.True(t, d.Release)
	d, err = ProofTests(ProofArea{Anchors: 2})
	require.NoError(t, err)
	require.Equal(t, 2, d.Tests, "there are no more")
	for _, a := range []ProofArea{{}, {Anchors: 5, Tested: 6}, {Anchors: 5, Tested: 1, Failed: 2}, {Anchors: 5, Tested: -1}} {
		_, err = ProofTests(a)
		require.ErrorIs(t, err, Invalid)
	}
}

func TestProofTestsAgainstThePublishedSummary(t *testing.T) {
	t.Parallel()
	for _, v := range toleranceVectors(t, "bs8539-proof-n-") {
		var want int
		v.expect(t, &want)
		d, err := ProofTests(ProofArea{Anchors: int(v.decimal(t, "anchors").Nano() / 1e9)})
		require.NoError(t, err)
		require.Equal(t, want, d.Tests, "%s", v)
	}
	for _, v := range toleranceVectors(t, "bs8539-proof-load-") {
		failed := 0
		if v.decimal(t, "share").Cmp(MustDecimal("0.05")) == 0 {
			failed = 1
		}
		d, err := ProofTests(ProofArea{Anchors: 400, Tested: failed, Failed: failed})
		require.NoError(t, err)
		load, ok := d.ProofLoad(v.decimal(t, "NSk_kN"))
		require.True(t, ok)
		var want float64
		v.expect(t, &want)
		require.InDelta(t, want, load.Float(), 1e-9, "%s", v)
	}
	v := toleranceVectors(t, "bs8539-one-failure")[0]
	d, err := ProofTests(ProofArea{Anchors: 100, Tested: 3, Failed: 1})
	require.NoError(t, err)
	var want int
	v.expect(t, &want)
	require.Equal(t, want, d.Tests, "%s", v)
	var least int
	toleranceVectors(t, "bs8539-stat-min")[0].expect(t, &least)
	require.Equal(t, least, DefaultPullOutRule().MinTests)
}

func TestPullOutIsJudgedSubstrateBySubstrate(t *testing.T) {
	t.Parallel()
	var tests []PullOutTest
	for _, v := range quarryTerrace() {
		tests = append(tests, PullOutTest{"solid brick", v}, PullOutTest{"hollow block", v})
	}
	list, worst, err := CharacteristicBySubstrate(tests, requiring("0.50"), map[string]Decimal{"hollow block": MustDecimal("0.52")})
	require.NoError(t, err)
	require.Equal(t, "solid brick", list[0].Substrate)
	require.Equal(t, Pass, list[0].Verdict)
	require.Equal(t, Fail, list[1].Verdict, "0.5196 fails 0.52")
	require.Equal(t, Fail, worst)
	// Thirty tests in two walls of fifteen are not thirty in one; fourteen in one have no value.
	list, worst, err = CharacteristicBySubstrate(tests[1:], requiring("0.50"), nil)
	require.NoError(t, err)
	require.Equal(t, []Outcome{Pass, NoVerdict, NoVerdict}, []Outcome{list[0].Verdict, list[1].Verdict, worst})
	_, _, err = CharacteristicBySubstrate([]PullOutTest{{"", DecimalOf(1)}}, DefaultPullOutRule(), nil)
	require.ErrorIs(t, err, Invalid)
}

func TestPullOutIsRoundedDownToTheListedValues(t *testing.T) {
	t.Parallel()
	rule := requiring("0.50")
	rule.Steps = decimals("0.3", "0.4", "0.5", "0.6", "0.75", "0.9", "1.2", "1.5")
	res := Characteristic(quarryTerrace(), rule)
	require.Equal(t, "0.5", res.NRk.String())
	require.Equal(t, "0.25", res.NRd.String())
	require.Equal(t, Pass, res.Verdict)
	rule.Steps = decimals("0.6")
	res = Characteristic(quarryTerrace(), rule)
	require.Nil(t, res.NRk)
	require.Equal(t, Fail, res.Verdict)
	require.Equal(t, ReasonBelowSteps, res.Reason)
	rule.Required = nil
	require.Equal(t, NoVerdict, Characteristic(quarryTerrace(), rule).Verdict)
	rule.Steps = decimals("0")
	require.Equal(t, "bad_pull_out_rule", Characteristic(quarryTerrace(), rule).Reason)
}

// Job J18.
func TestABondTestNeedsItsDollyAndItsFailurePlane(t *testing.T) {
	t.Parallel()
	for text, want := range map[string]string{
		"50 mm round": "0.311", "50 x 50 mm": "0.244", "50x50": "0.244", "50 × 50 square": "0.244", "Round 50mm": "0.311",
	} {
		in, err := BondTest{PeakN: DecimalOf(610), Dolly: text, Plane: "substrate"}.BondReading()
		require.NoError(t, err, text)
		require.Equal(t, want, in.Value.Round(3).String(), text)
	}
	for _, text := range []string{"", "50", "50 mm", "50 mm square", "round", "0 round", "5 x", "50 x 50 x 50", "round 50 x 50", "1e3 round", "9999 round"} {
		_, err := DollyArea(text)
		var refused *Error
		require.ErrorAs(t, err, &refused, text)
		require.Equal(t, "dolly_unknown", refused.Code, text)
	}
	l := compiled(t, Limit{Quantity: "bond_strength", Kind: FixedLimit, Lower: exact("0.08"), ExceptPlane: "insulation"})
	for plane, want := range map[string]Outcome{"insulation": Pass, "": NoVerdict, "adhesive": Fail} {
		in, err := BondTest{PeakN: DecimalOf(128), Dolly: "50 mm round", Plane: plane}.BondReading()
		require.NoError(t, err)
		require.Equal(t, "0.065", in.Value.Round(3).String())
		require.Equal(t, want, Judge(in, l, Simple, Decimal{}).Outcome, plane)
	}
	_, err := BondTest{PeakN: DecimalOf(-1), Dolly: "50 mm round"}.BondReading()
	require.ErrorIs(t, err, Invalid)
}

func FuzzDollyArea(f *testing.F) {
	for _, s := range []string{"50 mm round", "50 x 50 mm", "50x50x", "ø50", "x x x", "-5 round"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if area, err := DollyArea(s); err == nil {
			require.Positive(t, area.Sign())
		}
	})
}

func TestTheOrderedPatternIsTheProjectsOwn(t *testing.T) {
	t.Parallel()
	project := func(zone Zone, lower string) Limit {
		return Limit{Quantity: "fixing_density", Kind: FixedLimit, Zone: zone, Lower: exact(lower), Basis: Project, Clause: "4.3"}
	}
	usual := compiled(t, Limit{Quantity: "fixing_density", Kind: FixedLimit, Lower: exact("6"), Basis: CommonPractice})
	own := compiled(t, project(Edge, "12"), project(Field, "8"),
		Limit{Quantity: "fixing_count_board", Kind: DensityLimit, PerArea: exact("9"), Basis: Project})
	_, ok := OrderedPattern([]*Limits{usual}, Edge)
	require.False(t, ok, "a usual least number is no order")
	for zone, want := range map[Zone]string{Edge: "12", Field: "9", Ground: "9"} {
		got, ok := OrderedPattern([]*Limits{usual, own}, zone)
		require.True(t, ok, zone)
		require.Equal(t, want, got.PerM2.String(), zone)
		require.Equal(t, zone, got.Zone)
		require.NotEmpty(t, got.Source.Schedule)
	}
}

func TestCountsAreGatheredByTheZoneThatGoverns(t *testing.T) {
	t.Parallel()
	spans, err := EdgeSpans(12_000, 1000, DecimalOf(12), DecimalOf(8))
	require.NoError(t, err)
	var verdicts []FixingVerdict
	for _, b := range []BoardCount{{3000, 1200, 600, 6}, {4200, 1200, 600, 5}, {400, 1200, 600, 9}, {900, 1200, 600, 8}, {99_000, 1200, 600, 8}} {
		v, err := JudgeFixings(b, spans)
		require.NoError(t, err)
		verdicts = append(verdicts, v)
	}
	zones := CountsByZone(spans, verdicts)
	require.Len(t, zones, 2)
	require.Equal(t, []any{Edge, 2, 1}, []any{zones[0].Zone, zones[0].Boards, zones[0].Short})
	require.InDelta(t, 8/0.72, zones[0].Least, 1e-9)
	require.Equal(t, []any{Field, 2, 1}, []any{zones[1].Zone, zones[1].Boards, zones[1].Short})
	require.True(t, AcrossZones(BoardCount{Left: 999, Width: 1200}, spans))
	require.False(t, AcrossZones(BoardCount{Left: 1000, Width: 1200}, spans))
}

func TestProofTestsAreCountedFromWhatIsRecorded(t *testing.T) {
	t.Parallel()
	held := Reading{Quantity: "proof_load", Value: MustDecimal("0.75"), Nominal: exact("0.75"), FailurePlane: "Held"}
	low, torn, failed, gone := held, held, held, held
	low.Value = MustDecimal("0.74")
	torn.FailurePlane, torn.Note = "pull-out", "hole drilled with the hammer on"
	failed.Verdict.Outcome = Fail
	gone.Withdrawn, gone.FailurePlane = "wrong anchor", "pull-out"
	require.Equal(t, ProofArea{Tested: 1}, ProofTally([]Reading{held, gone}))
	require.Equal(t, ProofArea{Tested: 2, Failed: 1, CauseNoted: true}, ProofTally([]Reading{held, torn}))
	require.Equal(t, ProofArea{Tested: 4, Failed: 3}, ProofTally([]Reading{held, torn, low, failed}), "two causes are not noted")
}

// Job J18.
func TestABondTestIsToldByWhatTore(t *testing.T) {
	t.Parallel()
	l := compiled(t, Limit{Quantity: "bond_strength", Kind: FixedLimit, Lower: exact("0.08"), ExceptPlane: "insulation"})
	for plane, want := range map[string]string{
		"insulation": "torn wholly in the insulation", "": "no verdict: what tore is not named", "adhesive": "too weak, torn in adhesive",
	} {
		in, err := BondTest{PeakN: DecimalOf(128), Dolly: "50 mm round", Plane: plane}.BondReading()
		require.NoError(t, err)
		require.Contains(t, BondWords(Judge(in, l, Simple, Decimal{}), plane), want)
	}
	peak, area, ok := BondPeak(MustDecimal("0.244"), "50 x 50")
	require.True(t, ok)
	require.Equal(t, []string{"610", "2500"}, []string{peak.Round(0).String(), area.Round(0).String()})
	_, _, ok = BondPeak(MustDecimal("0.244"), "50")
	require.False(t, ok)
}
