package server

import (
	"storeyrod/defects"
)

// Place is where on a site something is.
type Place struct {
	ElevationID string `json:"elevation_id,omitempty"`
	X           *Exact `json:"x_m,omitempty" doc:"metres from the left end, seen from outside, facing the wall"`
	Z           *Exact `json:"z_m,omitempty" doc:"metres above the base line"`
	Bay         int    `json:"bay,omitempty" doc:"from 1 at the left"`
	Lift        int    `json:"lift,omitempty" doc:"from 1 at the ground"`
	Opening     string `json:"opening,omitempty"`
	Zone        string `json:"zone,omitempty" doc:"field, edge or ground"`
}

func placeOf(p defects.Place) Place {
	return Place{
		ElevationID: p.ElevationID, X: exactMM(p.X), Z: exactMM(p.Z), Bay: p.Bay, Lift: p.Lift,
		Opening: p.Opening, Zone: string(p.Zone),
	}
}

func (p Place) place() (defects.Place, error) {
	out := defects.Place{ElevationID: p.ElevationID, Bay: p.Bay, Lift: p.Lift, Opening: p.Opening, Zone: defects.Zone(p.Zone)}
	var err error
	if p.X != nil {
		if out.X, err = p.X.mm("place.x_m"); err != nil {
			return out, err
		}
	}
	if p.Z != nil {
		if out.Z, err = p.Z.mm("place.z_m"); err != nil {
			return out, err
		}
	}
	return out, nil
}

// Verdict is the judgement on a reading or a set, with all it rests on.
type Verdict struct {
	Outcome    string       `json:"outcome" enum:"pass,conditional-pass,conditional-fail,fail,none"`
	Reason     string       `json:"reason,omitempty"`
	ReasonText string       `json:"reason_text,omitempty"`
	Lower      *Exact       `json:"limit_lower,omitempty"`
	Upper      *Exact       `json:"limit_upper,omitempty"`
	Expanded   *Exact       `json:"expanded_uncertainty,omitempty" doc:"U, k = 2"`
	Guard      *Exact       `json:"guard,omitempty" doc:"w"`
	PConform   *float64     `json:"p_conform,omitempty" doc:"conformance probability"`
	Rule       string       `json:"decision_rule,omitempty"`
	Schedule   string       `json:"schedule,omitempty"`
	Title      string       `json:"title,omitempty"`
	Edition    string       `json:"edition,omitempty"`
	Clause     string       `json:"clause,omitempty"`
	Line       string       `json:"line,omitempty"`
	Basis      string       `json:"basis,omitempty" doc:"read, secondary, memory, common-practice or project"`
	Unverified bool         `json:"unverified,omitempty" doc:"the limit rests on memory alone"`
	Warning    string       `json:"warning,omitempty" doc:"what a warning limit says; it never changes the outcome"`
	PassedOver []PassedOver `json:"passed_over,omitempty" doc:"limits of schedules in force that rank lower"`
}

// PassedOver is a limit that the governing one went before.
type PassedOver struct {
	Schedule   string `json:"schedule"`
	Rank       string `json:"rank"`
	Outcome    string `json:"outcome"`
	Lower      *Exact `json:"limit_lower,omitempty"`
	Upper      *Exact `json:"limit_upper,omitempty"`
	Basis      string `json:"basis,omitempty"`
	Unverified bool   `json:"unverified,omitempty"`
}

func passedOverOf(p defects.PassedOver) PassedOver {
	return PassedOver{
		Schedule: p.Schedule, Rank: string(p.Rank), Outcome: string(p.Outcome), Lower: exactOf(p.Lower), Upper: exactOf(p.Upper),
		Basis: string(p.Basis), Unverified: p.Basis == defects.Memory,
	}
}

func verdictOf(v defects.Verdict) Verdict {
	return Verdict{
		Outcome: string(v.Outcome), Reason: v.Reason, ReasonText: v.ReasonText, Lower: exactOf(v.Lower),
		Upper: exactOf(v.Upper), Expanded: exactOf(v.Expanded), Guard: exactOf(v.Guard), PConform: v.PConform,
		Rule: string(v.Rule), Schedule: v.Schedule, Title: v.Title, Edition: v.Edition, Clause: v.Clause, Line: v.Line,
		Basis: string(v.Basis), Unverified: v.Unverified(), Warning: v.Warning, PassedOver: each(v.PassedOver, passedOverOf),
	}
}

// Person is somebody as the record remembers him.
type Person struct {
	ID   string `json:"id,omitempty"`
	Name string `json:"name,omitempty"`
	Role string `json:"role,omitempty"`
}

func personOf(p defects.Person) Person { return Person{ID: p.ID, Name: p.Name, Role: string(p.Role)} }
