package server

import (
	"fmt"
	"strconv"
	"strings"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/web"
)

// elevationForm presets the form from what is stored.
func elevationForm(e defects.Elevation) *web.Form {
	f := web.NewForm("f").Set("version", strconv.Itoa(e.Version)).Set("name", e.Name).
		Set("height", e.Height.Metres().String()).Set("base_line", e.BaseLine.Metres().String()).
		Set("bearing", e.Bearing.String()).Set("side", sideValue(e.Court, e.Edge)).
		Set("bays", endsText(e.Bays)).Set("lifts", endsText(e.Lifts))
	var rows []string
	for _, o := range e.Openings {
		rows = append(rows, fmt.Sprintf("%s; %s; %s; %s; %s; %s", o.Name, o.Kind, o.X.Metres(), o.Z.Metres(), o.Width.Metres(), o.Height.Metres()))
	}
	return f.Set("openings", strings.Join(rows, "\n"))
}

func endsText(ends []defects.MM) string {
	words := make([]string, len(ends))
	for i, end := range ends {
		words[i] = end.Metres().String()
	}
	return strings.Join(words, " ")
}

// elevationPatchOf reads the whole form; every field of it is sent.
func elevationPatchOf(f *web.Form) (register.ElevationPatch, error) {
	name := typed(f, "name")
	p := register.ElevationPatch{Name: &name}
	var err error
	if p.Height, err = typedMetres(f, "height"); err != nil {
		return p, err
	}
	if p.BaseLine, err = typedMetres(f, "base_line"); err != nil {
		return p, err
	}
	if p.Bearing, err = typedDecimal(f, "bearing"); err != nil {
		return p, err
	}
	bays, err := endsOf(f, "bays")
	if err != nil {
		return p, err
	}
	lifts, err := endsOf(f, "lifts")
	if err != nil {
		return p, err
	}
	openings, err := openingsOf(f.Values.Get("openings"))
	p.Bays, p.Lifts, p.Openings = &bays, &lifts, &openings
	return p, err
}

// endsOf reads lengths in metres with spaces or line ends between them.
func endsOf(f *web.Form, name string) ([]defects.MM, error) {
	ends := []defects.MM{}
	for i, word := range strings.Fields(f.Values.Get(name)) {
		at := fmt.Sprintf("%s[%d]", name, i)
		d, err := defects.ParseDecimal(word)
		if err != nil {
			return nil, atField(err, at)
		}
		mm, err := defects.MMFromMetres(d)
		if err != nil {
			return nil, atField(err, at)
		}
		ends = append(ends, mm)
	}
	return ends, nil
}

// openingsOf reads one opening a line: name; kind; x; z; width; height.
func openingsOf(text string) ([]defects.Opening, error) {
	list := []defects.Opening{}
	for _, line := range strings.Split(text, "\n") {
		if strings.TrimSpace(line) == "" {
			continue
		}
		field := fmt.Sprintf("openings[%d]", len(list))
		parts := strings.Split(line, ";")
		if len(parts) != 6 {
			return nil, defects.RefuseField(defects.Invalid, field, "bad_row", "write name; kind; x; z; width; height")
		}
		o := defects.Opening{Name: strings.TrimSpace(parts[0]), Kind: strings.TrimSpace(parts[1])}
		for i, to := range []*defects.MM{&o.X, &o.Z, &o.Width, &o.Height} {
			d, err := defects.ParseDecimal(parts[i+2])
			if err == nil {
				*to, err = defects.MMFromMetres(d)
			}
			if err != nil {
				return nil, atField(err, field)
			}
		}
		list = append(list, o)
	}
	return list, nil
}

// sideValue names a side of a footprint in a form.
func sideValue(court, edge int) string { return fmt.Sprintf("%d/%d", court, edge) }

// sideOptions lists the sides of a footprint that are long enough for an elevation,
// with the one that has each.
func sideOptions(b defects.Building, walls []defects.Elevation) []web.Option {
	var out []web.Option
	for court, sides := range defects.RingSides(b) {
		for _, side := range sides {
			text := fmt.Sprintf("side %d, %s m long, faces %.0f°", side.Index+1, side.Length.Metres(), side.Bearing)
			if court > 0 {
				text = fmt.Sprintf("courtyard %d, ", court) + text
			}
			for _, e := range walls {
				if e.BuildingID == b.ID && e.Court == court && e.Edge == side.Index {
					text += ": " + e.Name
				}
			}
			out = append(out, web.Option{Value: sideValue(court, side.Index), Text: text})
		}
	}
	return out
}

// sideOf reads a side that was chosen.
func sideOf(f *web.Form) (court, edge int, err error) {
	if n, _ := fmt.Sscanf(typed(f, "side"), "%d/%d", &court, &edge); n != 2 {
		return 0, 0, defects.RefuseField(defects.Invalid, "side", "no_such_side", "choose a side of the footprint")
	}
	return court, edge, nil
}

func buildingForm(b defects.Building) *web.Form {
	return web.NewForm("f").Set("version", strconv.Itoa(b.Version)).Set("name", b.Name).
		Set("height", b.Height.Metres().String()).Set("completed_on", b.CompletedOn).
		Set("defects_months", strconv.Itoa(b.DefectsMonths))
}
