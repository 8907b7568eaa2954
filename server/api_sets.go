package server

import (
	"context"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

// Set is a group of readings judged together.
type Set struct {
	ID        string `json:"id"`
	Quantity  string `json:"quantity"`
	Name      string `json:"name"`
	Substrate string `json:"substrate,omitempty"`
	Stage     string `json:"stage,omitempty"`
	Place     Place  `json:"place"`
	Count     int    `json:"count" doc:"readings that stand"`

	Stated *Statement `json:"stated,omitempty" doc:"by the designer"`

	Verdict    Verdict   `json:"verdict"`
	Result     *Exact    `json:"result,omitempty" doc:"the figure judged, unrounded; for pull-out the characteristic resistance in kN"`
	ResultText string    `json:"result_text,omitempty"`
	Readings   []Reading `json:"readings,omitempty"`
	Caution    string    `json:"caution,omitempty"`
	Version    int       `json:"version"`
}

const pullOutCaution = "Pull-out results are test data; a competent structural designer chooses anchor, number and zones."

func setOf(s defects.Set) Set {
	out := Set{
		ID: s.ID, Quantity: s.Quantity, Name: s.Name, Substrate: s.Substrate, Stage: s.Stage, Place: placeOf(s.Place),
		Count: s.Readings, Stated: statementOf(s.Stated), Verdict: verdictOf(s.Verdict), Result: exactOf(s.Result), ResultText: s.ResultText, Version: s.Version,
	}
	if s.Quantity == "pull_out_load" || s.Quantity == "bond_strength" {
		out.Caution = pullOutCaution
	}
	return out
}

// SetIn is the path of a set.
type SetIn struct {
	SiteIn
	ID string `path:"set"`
}

type setOut struct {
	ETag     string `header:"ETag"`
	Location string `header:"Location"`
	Body     Set
}

type setsOut struct {
	Body struct {
		Items []Set `json:"items"`
	}
}

type newSetIn struct {
	SiteIn
	Body struct {
		Quantity  string `json:"quantity"`
		Name      string `json:"name"`
		Substrate string `json:"substrate,omitempty"`
		Stage     string `json:"stage,omitempty"`
		Place     *Place `json:"place,omitempty"`
	}
}

func (a *api) sets() {
	reg := a.s.reg
	handle(a, get("/sites/{site}/sets", "Sets of readings"), may(defects.ViewSite), func(ctx context.Context, in *SiteIn) (*setsOut, error) {
		list, err := reg.Sets(ctx, actorFrom(ctx), in.Site)
		out := &setsOut{}
		out.Body.Items = each(list, setOf)
		return out, err
	})
	handle(a, created(post("/sites/{site}/sets", "Start a set, such as a pull-out test on one substrate")), may(defects.AddReading), a.postSet)
	handle(a, get("/sites/{site}/sets/{set}", "One set with its readings"), may(defects.ViewSite), func(ctx context.Context, in *SetIn) (*setOut, error) {
		s, readings, err := reg.Set(ctx, actorFrom(ctx), in.Site, in.ID)
		if err != nil {
			return nil, err
		}
		out := &setOut{ETag: etag(s.Version), Body: setOf(s)}
		out.Body.Readings = each(readings, readingOf)
		return out, nil
	})
}

func (a *api) postSet(ctx context.Context, in *newSetIn) (*setOut, error) {
	n := register.NewSet{Quantity: in.Body.Quantity, Name: in.Body.Name, Substrate: in.Body.Substrate, Stage: in.Body.Stage}
	if in.Body.Place != nil {
		place, err := in.Body.Place.place()
		if err != nil {
			return nil, err
		}
		n.Place = place
	}
	s, err := a.s.reg.CreateSet(ctx, actorFrom(ctx), in.Site, n)
	if err != nil {
		return nil, err
	}
	return &setOut{ETag: etag(s.Version), Location: apiRoot + "/sites/" + in.Site + "/sets/" + s.ID, Body: setOf(s)}, nil
}
