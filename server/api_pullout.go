package server

import (
	"context"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

// PullOut is the working of a pull-out set; loads in kN, unrounded.
type PullOut struct {
	Set       string       `json:"set"`
	Substrate string       `json:"substrate,omitempty"`
	N         int          `json:"n" doc:"tests that stand"`
	MinTests  int          `json:"min_tests,omitempty"`
	Lowest    []Exact      `json:"lowest_kN" doc:"the loads averaged, ascending"`
	N1        *Exact       `json:"n1_kN,omitempty" doc:"their mean"`
	Factor    *Exact       `json:"factor,omitempty"`
	FactorN1  *Exact       `json:"factor_n1_kN,omitempty" doc:"factor times mean, before cap and listed values"`
	Cap       *Exact       `json:"cap_kN,omitempty"`
	Capped    bool         `json:"capped"`
	Steps     []Exact      `json:"steps_kN,omitempty" doc:"characteristic values that are allowed; rounded down to one of them"`
	NRk       *Exact       `json:"nrk_kN,omitempty" doc:"characteristic resistance"`
	Gamma     *Exact       `json:"gamma_m,omitempty" doc:"partial factor of the material"`
	NRd       *Exact       `json:"nrd_kN,omitempty" doc:"design value"`
	Required  *Exact       `json:"required_kN,omitempty" doc:"the designer's characteristic value"`
	Unnoted   int          `json:"ends_not_noted" doc:"tests that do not say how they ended"`
	Hidden    bool         `json:"hidden,omitempty" doc:"tests of another gang count too, so the working is not told to you"`
	Now       Verdict      `json:"verdict" doc:"as the readings stand, under the schedule of the set's own verdict"`
	Stored    Verdict      `json:"stored_verdict"`
	Ordered   []Ordered    `json:"ordered" doc:"patterns that the project's limits in force order"`
	GammaQ    *Exact       `json:"gamma_q,omitempty"`
	Anchors   []Anchors    `json:"anchors,omitempty"`
	Others    []SetSummary `json:"others" doc:"the site's other pull-out sets: each substrate stands for itself"`
	Stated    *Statement   `json:"stated,omitempty" doc:"by the designer, as noted for the set; what the request states goes before it"`
	Caution   string       `json:"caution"`
}

// Ordered is a pattern that the designer ordered in one zone.
type Ordered struct {
	Zone     string `json:"zone"`
	PerM2    Exact  `json:"per_m2"`
	Schedule string `json:"schedule"`
	Clause   string `json:"clause,omitempty"`
}

// Anchors is what one zone needs beside what was ordered.
type Anchors struct {
	Zone      string `json:"zone"`
	Suction   Exact  `json:"suction_kN_m2" doc:"characteristic, by the designer"`
	Ordered   Exact  `json:"ordered_per_m2"`
	Agreed    bool   `json:"ordered_by_limits" doc:"the pattern is that of the project's limits, since none or a lower one was stated"`
	ByLoad    int    `json:"by_load_per_m2" doc:"the partial factor times the suction by the design value, rounded up"`
	PerM2     Exact  `json:"needed_per_m2" doc:"never fewer than ordered"`
	Governing string `json:"governing" enum:"load,ordered pattern"`
	Enough    bool   `json:"ordered_is_enough"`
}

// SetSummary names a set and what it came to.
type SetSummary struct {
	ID        string `json:"id"`
	Name      string `json:"name"`
	Substrate string `json:"substrate,omitempty"`
	Count     int    `json:"count"`
	Result    *Exact `json:"result,omitempty"`
	Outcome   string `json:"outcome"`
}

func summaryOf(s defects.Set) SetSummary {
	return SetSummary{ID: s.ID, Name: s.Name, Substrate: s.Substrate, Count: s.Readings, Result: exactOf(s.Result), Outcome: string(s.Verdict.Outcome)}
}

func orderedOf(o defects.Ordered) Ordered {
	return Ordered{Zone: string(o.Zone), PerM2: Exact(o.PerM2.String()), Schedule: o.Source.Schedule, Clause: o.Source.Clause}
}

func anchorsOf(l register.AnchorLine) Anchors {
	return Anchors{
		Zone: string(l.Zone), Suction: Exact(l.Suction.String()), Ordered: Exact(l.Ordered.String()), Agreed: l.Agreed,
		ByLoad: l.ByLoad, PerM2: Exact(l.PerM2.String()), Governing: l.Governing, Enough: l.Enough,
	}
}

func exactText(d defects.Decimal) Exact { return Exact(d.String()) }

func pullOutOf(s register.PullOutSheet) PullOut {
	out := PullOut{
		Set: s.Set.ID, Substrate: s.Set.Substrate, N: s.Set.Readings, Lowest: []Exact{}, Unnoted: s.Unnoted, Hidden: s.Hidden,
		Now: verdictOf(s.Now.Verdict), Stored: verdictOf(s.Set.Verdict), Ordered: each(s.Ordered, orderedOf),
		Others: each(s.Siblings, summaryOf), Stated: statementOf(s.Set.Stated), Caution: pullOutCaution,
	}
	if s.Hidden {
		out.Now = out.Stored
	}
	res := s.Now.PullOut
	if res == nil {
		return out
	}
	rule := res.Rule
	out.MinTests, out.Factor, out.Gamma, out.Cap = rule.MinTests, exactOf(&rule.Factor), exactOf(&rule.Gamma), exactOf(rule.Cap)
	out.Steps, out.Lowest, out.Capped = each(rule.Steps, exactText), each(res.Lowest, exactText), res.Capped
	out.N1, out.FactorN1, out.NRk, out.NRd, out.Required = exactOf(res.N1), exactOf(res.Raw), exactOf(res.NRk), exactOf(res.NRd), exactOf(res.Required)
	return out
}

type pullOutIn struct {
	SetIn
	GammaQ        string `query:"gamma_q" doc:"partial factor on the wind; 1.5 when absent"`
	SuctionField  string `query:"suction_field" doc:"characteristic suction on the zone in kN/m², by the designer"`
	SuctionEdge   string `query:"suction_edge"`
	SuctionGround string `query:"suction_ground"`
	OrderedField  string `query:"ordered_field" doc:"anchors per m² ordered in the zone; that of the project's limits when absent or lower"`
	OrderedEdge   string `query:"ordered_edge"`
	OrderedGround string `query:"ordered_ground"`
}

// get is one parameter by its name, so that page and REST read them alike.
func (in *pullOutIn) get(name string) string {
	return map[string]string{
		"gamma_q": in.GammaQ, "suction_field": in.SuctionField, "suction_edge": in.SuctionEdge, "suction_ground": in.SuctionGround,
		"ordered_field": in.OrderedField, "ordered_edge": in.OrderedEdge, "ordered_ground": in.OrderedGround,
	}[name]
}

type pullOutOut struct{ Body PullOut }

// zoneWords are the zones that anchors are asked for, the most exposed first.
func zoneWords() []defects.Zone { return []defects.Zone{defects.Edge, defects.Field, defects.Ground} }

// gammaQUsual is the partial factor on a variable action (EN 1990, from memory).
const gammaQUsual = "1.5"

// zoneActions reads what was stated of each zone; a zone without a suction is
// not asked about.
func zoneActions(get func(string) string) (actions []defects.ZoneAction, gammaQ defects.Decimal, err error) {
	number := func(name, usual string) (defects.Decimal, error) {
		text := get(name)
		if text == "" {
			text = usual
		}
		d, err := defects.ParseDecimal(text)
		return d, atField(err, name)
	}
	if gammaQ, err = number("gamma_q", gammaQUsual); err != nil {
		return nil, gammaQ, err
	}
	for _, zone := range zoneWords() {
		if get("suction_"+string(zone)) == "" {
			continue
		}
		one := defects.ZoneAction{Zone: zone}
		if one.Suction, err = number("suction_"+string(zone), ""); err != nil {
			return nil, gammaQ, err
		}
		if one.Ordered, err = number("ordered_"+string(zone), "0"); err != nil {
			return nil, gammaQ, err
		}
		actions = append(actions, one)
	}
	return actions, gammaQ, nil
}

func (a *api) getPullOut(ctx context.Context, in *pullOutIn) (*pullOutOut, error) {
	actions, gammaQ, err := zoneActions(in.get)
	if err != nil {
		return nil, err
	}
	sheet, err := a.s.reg.PullOutSheet(ctx, actorFrom(ctx), in.Site, in.ID)
	if err != nil {
		return nil, err
	}
	out := &pullOutOut{Body: pullOutOf(sheet)}
	if len(actions) == 0 {
		if actions = sheet.Set.Stated.Zones; len(actions) == 0 || !sheet.HasDesign() {
			return out, nil
		}
		gammaQ = *sheet.Set.Stated.GammaQ
	}
	lines, err := sheet.Anchors(actions, gammaQ)
	out.Body.Anchors, out.Body.GammaQ = each(lines, anchorsOf), exactOf(&gammaQ)
	return out, err
}
