package server

import (
	"context"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

// Instrument is one tool with its calibrations, the newest first.
type Instrument struct {
	ID            string        `json:"id"`
	Name          string        `json:"name"`
	Kind          string        `json:"kind,omitempty"`
	Serial        string        `json:"serial,omitempty"`
	Unit          string        `json:"unit,omitempty"`
	Resolution    *Exact        `json:"resolution,omitempty"`
	Expanded      *Exact        `json:"expanded_uncertainty,omitempty" doc:"U (k = 2) when no calibration states one"`
	Repeatability *Exact        `json:"repeatability,omitempty" doc:"standard deviation of single repeats of one measurement"`
	Repeats       int           `json:"repeats,omitempty" doc:"from how many it was found"`
	Calibrations  []Calibration `json:"calibrations"`
	Version       int           `json:"version"`
}

// Calibration is one certificate's span of validity.
type Calibration struct {
	Certificate string `json:"certificate"`
	On          string `json:"on" doc:"date"`
	Due         string `json:"due" doc:"last valid day"`
	Expanded    *Exact `json:"expanded_uncertainty,omitempty"`
	K           *Exact `json:"k,omitempty" doc:"coverage factor of the uncertainty; 2 when absent"`
}

func instrumentOf(i defects.Instrument) Instrument {
	return Instrument{
		ID: i.ID, Name: i.Name, Kind: i.Kind, Serial: i.Serial, Unit: i.Unit, Resolution: exactOf(i.Resolution),
		Expanded: exactOf(i.Expanded), Repeatability: exactOf(i.Repeatability), Repeats: i.Repeats, Version: i.Version, Calibrations: each(i.Calibrations, func(c defects.Calibration) Calibration {
			return Calibration{Certificate: c.Certificate, On: c.On, Due: c.Due, Expanded: exactOf(c.Expanded), K: exactOf(c.K)}
		}),
	}
}

type instrumentsOut struct {
	Body struct {
		Items []Instrument `json:"items"`
	}
}

type instrumentOut struct {
	ETag string `header:"ETag"`
	Body Instrument
}

type newInstrumentIn struct {
	SiteIn
	Body struct {
		Name          string `json:"name"`
		Kind          string `json:"kind,omitempty"`
		Serial        string `json:"serial,omitempty"`
		Unit          string `json:"unit,omitempty"`
		Resolution    Exact  `json:"resolution,omitempty"`
		Expanded      Exact  `json:"expanded_uncertainty,omitempty"`
		Repeatability Exact  `json:"repeatability,omitempty" doc:"standard deviation of single repeats, with how many there were"`
		Repeats       int    `json:"repeats,omitempty"`
	}
}

type repeatsIn struct {
	SiteIn
	Changed
	ID   string `path:"instrument"`
	Body struct {
		Values        []Exact `json:"values,omitempty" doc:"single repeats of one measurement, or their standard deviation and number"`
		Repeatability Exact   `json:"repeatability,omitempty"`
		Repeats       int     `json:"repeats,omitempty"`
	}
}

type newCalibrationIn struct {
	SiteIn
	Changed
	ID   string `path:"instrument"`
	Body struct {
		Certificate string `json:"certificate"`
		On          string `json:"on"`
		Due         string `json:"due"`
		Expanded    Exact  `json:"expanded_uncertainty,omitempty"`
		K           Exact  `json:"k,omitempty" doc:"coverage factor of the uncertainty; 2 when absent"`
	}
}

func (a *api) instruments() {
	reg := a.s.reg
	handle(a, get("/sites/{site}/instruments", "Instruments with their calibrations"), may(defects.ViewSite),
		func(ctx context.Context, in *SiteIn) (*instrumentsOut, error) {
			list, err := reg.Instruments(ctx, actorFrom(ctx), in.Site)
			out := &instrumentsOut{}
			out.Body.Items = each(list, instrumentOf)
			return out, err
		})
	handle(a, created(post("/sites/{site}/instruments", "Add an instrument")), may(defects.AddInstrument), a.postInstrument)
	handle(a, post("/sites/{site}/instruments/{instrument}/calibrations", "Add a calibration"), may(defects.AddInstrument), a.postCalibration)
	handle(a, post("/sites/{site}/instruments/{instrument}/repeats", "State how far single repeats spread"), may(defects.AddInstrument), a.postRepeats)
}

func (a *api) postInstrument(ctx context.Context, in *newInstrumentIn) (*instrumentOut, error) {
	n := register.NewInstrument{Name: in.Body.Name, Kind: in.Body.Kind, Serial: in.Body.Serial, Unit: in.Body.Unit}
	var err error
	if n.Resolution, err = in.Body.Resolution.decimal("resolution"); err != nil {
		return nil, err
	}
	if n.Expanded, err = in.Body.Expanded.decimal("expanded_uncertainty"); err != nil {
		return nil, err
	}
	if n.Repeats.S, err = in.Body.Repeatability.decimal("repeatability"); err != nil {
		return nil, err
	}
	n.Repeats.N = in.Body.Repeats
	i, err := a.s.reg.AddInstrument(ctx, actorFrom(ctx), in.Site, n)
	return &instrumentOut{ETag: etag(i.Version), Body: instrumentOf(i)}, err
}

func (a *api) postCalibration(ctx context.Context, in *newCalibrationIn) (*instrumentOut, error) {
	version, err := ifMatch(in.IfMatch)
	if err != nil {
		return nil, err
	}
	u, err := in.Body.Expanded.decimal("expanded_uncertainty")
	if err != nil {
		return nil, err
	}
	k, err := in.Body.K.decimal("k")
	if err != nil {
		return nil, err
	}
	i, err := a.s.reg.AddCalibration(ctx, actorFrom(ctx), in.Site, in.ID, version,
		defects.Calibration{Certificate: in.Body.Certificate, On: in.Body.On, Due: in.Body.Due, Expanded: u, K: k})
	return &instrumentOut{ETag: etag(i.Version), Body: instrumentOf(i)}, err
}

func (a *api) postRepeats(ctx context.Context, in *repeatsIn) (*instrumentOut, error) {
	version, err := ifMatch(in.IfMatch)
	if err != nil {
		return nil, err
	}
	p := register.Repeats{N: in.Body.Repeats}
	if p.S, err = in.Body.Repeatability.decimal("repeatability"); err != nil {
		return nil, err
	}
	for _, text := range in.Body.Values {
		v, err := text.decimal("values")
		if err != nil {
			return nil, err
		}
		if v != nil {
			p.Values = append(p.Values, *v)
		}
	}
	i, err := a.s.reg.StateRepeats(ctx, actorFrom(ctx), in.Site, in.ID, version, p)
	return &instrumentOut{ETag: etag(i.Version), Body: instrumentOf(i)}, err
}
