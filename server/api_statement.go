package server

import (
	"context"

	"storeyrod/defects"
)

// Statement is what a designer states for a test set.
type Statement struct {
	Source  string          `json:"source" doc:"the drawing, letter or calculation it is taken from"`
	GammaQ  *Exact          `json:"gamma_q,omitempty" doc:"pull-out: partial factor on the wind; 1.5 when absent"`
	Zones   []ZoneStatement `json:"zones,omitempty" doc:"pull-out"`
	Anchors int             `json:"anchors,omitempty" doc:"proof tests: in the area"`
	Action  *Exact          `json:"action_kN,omitempty" doc:"proof tests: characteristic action on one anchor"`
	By      *Person         `json:"by,omitempty" readOnly:"true" doc:"who noted it"`
	At      string          `json:"at,omitempty" readOnly:"true"`
}

// ZoneStatement is what is stated of one zone.
type ZoneStatement struct {
	Zone    string `json:"zone" enum:"field,edge,ground"`
	Suction Exact  `json:"suction_kN_m2" doc:"characteristic"`
	Ordered Exact  `json:"ordered_per_m2,omitempty" doc:"that of the project's limits when absent or lower"`
}

func statementOf(s defects.Statement) *Statement {
	if s.None() {
		return nil
	}
	out := &Statement{
		Source: s.Source, GammaQ: exactOf(s.GammaQ), Anchors: s.Anchors, Action: exactOf(s.Action), By: &Person{ID: s.By.ID, Name: s.By.Name}, At: stamp(s.At),
	}
	for _, z := range s.Zones {
		out.Zones = append(out.Zones, ZoneStatement{string(z.Zone), exactText(z.Suction), exactText(z.Ordered)})
	}
	return out
}

// statement reads what was sent. By and At are the register's to fill.
func (s Statement) statement(quantity string) (defects.Statement, error) {
	out := defects.Statement{Source: s.Source, Anchors: s.Anchors}
	var err error
	if out.GammaQ, err = exactDecimal("gamma_q", s.GammaQ); err != nil {
		return out, err
	}
	if out.GammaQ == nil && quantity == "pull_out_load" {
		usual := defects.MustDecimal(gammaQUsual)
		out.GammaQ = &usual
	}
	if out.Action, err = exactDecimal("action_kN", s.Action); err != nil {
		return out, err
	}
	for _, z := range s.Zones {
		one := defects.ZoneAction{Zone: defects.Zone(z.Zone)}
		for _, f := range []struct {
			name string
			from Exact
			to   *defects.Decimal
		}{{"suction_" + z.Zone, z.Suction, &one.Suction}, {"ordered_" + z.Zone, z.Ordered, &one.Ordered}} {
			d, err := f.from.decimal(f.name)
			if err != nil {
				return out, err
			}
			if d != nil {
				*f.to = *d
			}
		}
		out.Zones = append(out.Zones, one)
	}
	return out, nil
}

type statementIn struct {
	SetIn
	IfMatch string `header:"If-Match" doc:"the ETag last seen"`
	Body    Statement
}

func (a *api) postStatement(ctx context.Context, in *statementIn) (*setOut, error) {
	set, _, err := a.s.reg.Set(ctx, actorFrom(ctx), in.Site, in.ID)
	if err != nil {
		return nil, err
	}
	version, err := ifMatch(in.IfMatch)
	if err != nil {
		return nil, err
	}
	st, err := in.Body.statement(set.Quantity)
	if err != nil {
		return nil, err
	}
	set, err = a.s.reg.StateForSet(ctx, actorFrom(ctx), in.Site, in.ID, version, st)
	return &setOut{ETag: etag(set.Version), Body: setOf(set)}, err
}
