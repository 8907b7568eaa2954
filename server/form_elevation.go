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

func buildingForm(b defects.Building) *web.Form {
	return web.NewForm("f").Set("version", strconv.Itoa(b.Version)).Set("name", b.Name).
		Set("height", b.Height.Metres().String()).Set("completed_on", b.CompletedOn).
		Set("defects_months", strconv.Itoa(b.DefectsMonths))
}
