package server

import (
	"fmt"
	"html/template"
	"strconv"

	"storeyrod/defects"
	"storeyrod/defects/reference"
	"storeyrod/defects/register"
	"storeyrod/report"
	"storeyrod/web"
)

// raiseInputOf reads the form that raises a snag.
func raiseInputOf(f *web.Form) (register.RaiseInput, error) {
	in := register.RaiseInput{
		ElevationID: typed(f, "elevation"), Opening: typed(f, "opening"), Zone: defects.Zone(typed(f, "zone")),
		Code: typed(f, "code"), Severity: defects.Severity(typed(f, "severity")), Extent: defects.Extent(typed(f, "extent")),
		Covered: f.Has("covered", "yes"), Requirement: typed(f, "requirement"), Text: typed(f, "text"), Gang: typed(f, "gang"),
		ReadingID: typed(f, "reading"), NoReadingReason: typed(f, "no_reading_reason"),
	}
	var err error
	if in.X, err = typedMetres(f, "x"); err != nil {
		return in, err
	}
	if in.Z, err = typedMetres(f, "z"); err != nil {
		return in, err
	}
	return in, typedWholes(f, map[string]*int{"bay": &in.Bay, "lift": &in.Lift})
}

// onRaiseForm puts a refusal at the field of the form that can answer it: the
// form has none for a reading, which comes with the page or not at all.
func onRaiseForm(f *web.Form, err error) error {
	e, ok := asRefusal(err)
	if !ok || e.Field != "reading" && e.Code != "evidence_missing" {
		return err
	}
	placed := *e
	switch {
	case e.Code == "evidence_missing":
		placed.Text += "; the account is written in “What is to be seen”"
	case typed(f, "reading") == "":
		placed.Field = "no_reading_reason"
	default: // the reading that came with the page does not fit the code
		placed.Field = "code"
	}
	return &placed
}

// presetFromReading fills in what a reading tells of the snag it shows.
func presetFromReading(f *web.Form, rd defects.Reading) {
	f.Set("elevation", rd.Place.ElevationID).Set("code", defects.KindForReading(rd)).Set("gang", rd.Gang).
		Set("opening", rd.Place.Opening).Set("zone", string(rd.Place.Zone))
	if rd.Place.X != nil && rd.Place.Z != nil {
		f.Set("x", rd.Place.X.Metres().String()).Set("z", rd.Place.Z.Metres().String())
	}
	if rd.Place.Bay > 0 {
		f.Set("bay", strconv.Itoa(rd.Place.Bay))
	}
	if rd.Place.Lift > 0 {
		f.Set("lift", strconv.Itoa(rd.Place.Lift))
	}
}

// numberLine draws the verdict of a reading.
func numberLine(rd defects.Reading) template.HTML {
	return template.HTML(report.NumberLineSVG(rd.Value, rd.Unit, rd.Verdict))
}

// kindTitle is what the catalogue calls a defect, with its severity.
func kindTitle(code string) string {
	for _, k := range reference.Catalogue() {
		if k.Code == code {
			return k.Name + ", " + string(k.Severity)
		}
	}
	return ""
}

// codeOptions is the defect catalogue, grouped by stage.
func codeOptions() []web.Option {
	out := []web.Option{{Text: "choose"}}
	for _, k := range reference.Catalogue() {
		out = append(out, web.Option{
			Value: k.Code, Group: k.Stage + " " + k.Group,
			Text: fmt.Sprintf("%s %s – %s", k.Code, k.Name, k.Severity),
		})
	}
	return out
}

func extentOptions() []web.Option {
	return []web.Option{
		{Value: string(defects.Single), Text: "one place"},
		{Value: string(defects.Several), Text: "several places"},
		{Value: string(defects.Pattern), Text: "a pattern: look for more"},
	}
}

func zoneOptions() []web.Option {
	return []web.Option{
		{Text: "not stated"},
		{Value: string(defects.Field), Text: "field"},
		{Value: string(defects.Edge), Text: "edge"},
		{Value: string(defects.Ground), Text: "ground"},
	}
}

func openingOptions(e defects.Elevation) []web.Option {
	out := []web.Option{{Text: "none"}}
	for _, o := range e.Openings {
		out = append(out, web.Option{Value: o.Name, Text: o.Name + ", " + o.Kind})
	}
	return out
}

func groundOptions() []web.Option {
	out := []web.Option{{Text: "choose"}}
	for _, g := range defects.Grounds() {
		out = append(out, web.Option{Value: string(g), Text: string(g)})
	}
	return out
}
