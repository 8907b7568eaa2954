package server

import (
	"context"
	"fmt"
	"strconv"
	"strings"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

// BondTest is one pull-off test, from the load read to what it came to.
type BondTest struct {
	Reading   string  `json:"reading_id,omitempty" doc:"absent for one that was asked about and is not stored"`
	Strength  Exact   `json:"strength_N_mm2"`
	Dolly     string  `json:"dolly,omitempty"`
	Area      *Exact  `json:"area_mm2,omitempty"`
	Peak      *Exact  `json:"peak_N,omitempty"`
	Plane     string  `json:"failure_plane,omitempty"`
	Withdrawn string  `json:"withdrawn,omitempty"`
	Verdict   Verdict `json:"verdict"`
	Words     string  `json:"words" doc:"what it came to by what tore"`
}

func bondOf(l register.BondLine) BondTest {
	out := BondTest{
		Reading: l.ID, Strength: Exact(l.Value.String()), Dolly: l.Dolly, Plane: l.FailurePlane, Withdrawn: l.Withdrawn,
		Verdict: verdictOf(l.Verdict), Words: l.Words,
	}
	if l.Peak != nil {
		peak, area := l.Peak.Round(0), l.Area.Round(1)
		out.Peak, out.Area = exactOf(&peak), exactOf(&area)
	}
	return out
}

func trialOf(t *register.BondTrial) *BondTest {
	if t == nil {
		return nil
	}
	area := t.Area.Round(1)
	return &BondTest{
		Strength: Exact(t.Strength.String()), Dolly: t.Test.Dolly, Area: exactOf(&area), Peak: exactOf(&t.Test.PeakN), Plane: t.Test.Plane,
		Verdict: verdictOf(t.Verdict), Words: t.Words,
	}
}

type bondIn struct {
	SetIn
	Peak  string `query:"peak_N" doc:"load of a test to be worked out without storing it"`
	Dolly string `query:"dolly" doc:"its dolly, such as 50 mm round or 50 x 50 mm"`
	Plane string `query:"failure_plane" doc:"what tore in it"`
}

type bondOut struct {
	Body struct {
		Set     string     `json:"set"`
		Tests   []BondTest `json:"tests"`
		Worst   string     `json:"worst" doc:"outcome that governs the tests that stand"`
		Trial   *BondTest  `json:"trial,omitempty"`
		Caution string     `json:"caution"`
	}
}

// trialTest reads a test that is to be worked out; nil when none is stated.
func trialTest(peak, dolly, plane string) (*defects.BondTest, error) {
	if peak == "" {
		return nil, nil
	}
	n, err := defects.ParseDecimal(peak)
	if err != nil {
		return nil, atField(err, "peak_N")
	}
	return &defects.BondTest{PeakN: n, Dolly: dolly, Plane: plane}, nil
}

func (a *api) getBond(ctx context.Context, in *bondIn) (*bondOut, error) {
	trial, err := trialTest(in.Peak, in.Dolly, in.Plane)
	if err != nil {
		return nil, err
	}
	s, err := a.s.reg.BondSheet(ctx, actorFrom(ctx), in.Site, in.ID, trial)
	out := &bondOut{}
	b := &out.Body
	b.Set, b.Tests, b.Worst, b.Trial, b.Caution = s.Set.ID, each(s.Lines, bondOf), string(s.Worst), trialOf(s.Trial), pullOutCaution
	return out, err
}

// ProofArea is one discrete area for proof tests.
type ProofArea struct {
	Set            SetSummary `json:"set"`
	Anchors        int        `json:"anchors,omitempty" doc:"as stated in the request, else as noted for the set"`
	Tested         int        `json:"tested"`
	Failed         int        `json:"failed"`
	CauseNoted     bool       `json:"cause_noted" doc:"every failed test carries a remark"`
	FailedReadings []string   `json:"failed_readings"`
	Stage          string     `json:"stage,omitempty" doc:"2.5 %, 5 % or 100 %"`
	Tests          int        `json:"tests,omitempty" doc:"due in all"`
	More           int        `json:"more" doc:"still to do"`
	LoadFactor     *Exact     `json:"load_factor,omitempty" doc:"on the characteristic action; absent = the designer sets it"`
	Load           *Exact     `json:"load_kN,omitempty"`
	CauseNeeded    bool       `json:"cause_needed"`
	InformDesigner bool       `json:"inform_designer"`
	Release        bool       `json:"release" doc:"as far as these tests go, the hold on the fixings may go"`
	Text           string     `json:"text"`
}

const anchorsUnstated = "state the number of anchors in the area"

func proofOf(s register.ProofSheet) ProofArea {
	out := ProofArea{
		Set: summaryOf(s.Set), Anchors: s.Area.Anchors, Tested: s.Area.Tested, Failed: s.Area.Failed, CauseNoted: s.Area.CauseNoted,
		FailedReadings: each(s.Failed, func(r defects.Reading) string { return r.ID }), Text: anchorsUnstated,
	}
	if d := s.Demand; d != nil {
		out.Stage, out.Tests, out.More, out.LoadFactor, out.Load = string(d.Stage), d.Tests, d.More, exactOf(d.LoadFactor), exactOf(s.Load)
		out.CauseNeeded, out.InformDesigner, out.Release, out.Text = d.CauseNeeded, d.InformDesigner, d.Release, d.Text
	}
	return out
}

type proofIn struct {
	SiteIn
	Areas []string `query:"area,explode" doc:"what is stated of an area: set id, colon, number of anchors, and if known another colon and the characteristic action on one in kN"`
}

type proofOut struct {
	Body struct {
		Items   []ProofArea `json:"items"`
		Caution string      `json:"caution"`
	}
}

const proofCaution = "Proof tests show that what was tested held; a competent structural designer decides on the fixings, and on the load after a second failure."

// proofAsk reads "SET:240:0.5".
func proofAsk(text string) (register.ProofAsk, error) {
	bad := func(why string) (register.ProofAsk, error) {
		return register.ProofAsk{}, defects.RefuseField(defects.Invalid, "area", "bad_area", why)
	}
	set, rest, ok := strings.Cut(text, ":")
	if !ok {
		return bad("write set id, colon, number of anchors")
	}
	count, action, stated := strings.Cut(rest, ":")
	n, err := strconv.Atoi(count)
	if err != nil {
		return bad(fmt.Sprintf("%q is no number of anchors", count))
	}
	ask := register.ProofAsk{SetID: set, Anchors: n}
	if !stated {
		return ask, nil
	}
	d, err := defects.ParseDecimal(action)
	ask.Action = &d
	return ask, atField(err, "area")
}

func (a *api) getProofTests(ctx context.Context, in *proofIn) (*proofOut, error) {
	var asked []register.ProofAsk
	for _, text := range in.Areas {
		ask, err := proofAsk(text)
		if err != nil {
			return nil, err
		}
		asked = append(asked, ask)
	}
	sheets, err := a.s.reg.ProofSheets(ctx, actorFrom(ctx), in.Site, asked)
	if err != nil {
		return nil, err
	}
	for _, s := range sheets {
		if s.Err != nil {
			return nil, named(s.Err, "area")
		}
	}
	out := &proofOut{}
	out.Body.Items, out.Body.Caution = each(sheets, proofOf), proofCaution
	return out, nil
}

func (a *api) fixingTests() {
	handle(a, get("/sites/{site}/sets/{set}/pull-out", "The working of a pull-out set, and anchors by zone from its design value"), may(defects.ViewSite), a.getPullOut)
	handle(a, post("/sites/{site}/sets/{set}/statement", "Note what the designer states for a pull-out or proof set; no verdict changes by it"), may(defects.AddReading), a.postStatement)
	handle(a, get("/sites/{site}/sets/{set}/bond", "Pull-off tests by load, dolly and failure plane"), may(defects.ViewSite), a.getBond)
	handle(a, get("/sites/{site}/proof-tests", "Proof tests by area: what is due, what was done, what is still to do"), may(defects.ViewSite), a.getProofTests)
	handle(a, get("/sites/{site}/elevations/{elevation}/fixings", "Fixing counts of an elevation against the ordered pattern, by zone and board by board"), may(defects.ViewSite), a.getFixings)
}
