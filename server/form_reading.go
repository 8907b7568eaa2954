package server

import (
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/defects/reference"
	"storeyrod/defects/register"
	"storeyrod/web"
)

// localTime is how a browser sends a date and time field.
const localTime = "2006-01-02T15:04"

// measuring is what the forms of measured things offer: where, with what, and
// by whom.
type measuring struct {
	walls       []defects.Elevation
	instruments []web.Option
	people      []web.Option
}

func (s *Server) measuring(c *gin.Context, f frame) (m measuring, err error) {
	ctx, a := c.Request.Context(), actorOf(c)
	if m.walls, err = s.reg.Elevations(ctx, a, f.Site.ID); err != nil {
		return m, err
	}
	tools, err := s.reg.Instruments(ctx, a, f.Site.ID)
	if err != nil {
		return m, err
	}
	members, err := s.reg.Members(ctx, a, f.Site.ID)
	m.instruments, m.people = toolOptions(tools, f), measurers(members, a)
	return m, err
}

// readingInputOf reads the form of one reading. The unit is the quantity's own,
// which the form shows beside the value; a time is in the site's zone.
func readingInputOf(f *web.Form, zone *time.Location) (register.ReadingInput, error) {
	in := register.ReadingInput{
		Quantity: typed(f, "quantity"), Value: typed(f, "value"), Observations: f.Values.Get("observations"), Expanded: typed(f, "expanded_uncertainty"),
		BaseLength: typed(f, "base_length_m"), FailurePlane: typed(f, "failure_plane"), Mode: typed(f, "mode"),
		Nominal: typed(f, "nominal"), Area: typed(f, "area_m2"),
		Trend: typed(f, "trend"), AirTemperature: typed(f, "air_temperature_c"), Humidity: typed(f, "relative_humidity"), Dolly: typed(f, "dolly"), InstrumentID: typed(f, "instrument"),
		ByLogin: typed(f, "by"), Gang: typed(f, "gang"), Batch: typed(f, "batch"), Stage: typed(f, "stage"),
		ElevationID: typed(f, "elevation"), X: typed(f, "x_m"), Z: typed(f, "z_m"), Opening: typed(f, "opening"), Zone: typed(f, "zone"),
		Note: typed(f, "note"), SetID: typed(f, "set"), Confirmed: f.Has("confirmed", "yes"), Photos: f.Values["photos"],
	}
	if q, ok := defects.QuantityByName(in.Quantity); ok {
		in.Unit = q.Unit
	}
	var err error
	if in.MeasuredAt, err = typedTime(f, "measured_at", zone); err != nil {
		return in, err
	}
	return in, typedWholes(f, map[string]*int{"bay": &in.Bay, "lift": &in.Lift, "courses": &in.Courses})
}

// quantityOptions lists the quantities with their units, grouped by the first
// stage that asks for them.
func quantityOptions(none string) []web.Option {
	first := map[string]string{}
	for _, row := range reference.RequiredReadings() {
		for _, q := range row.Quantities {
			if first[q] == "" {
				first[q] = row.Stage
			}
		}
	}
	var out []web.Option
	for _, q := range defects.Quantities() {
		group := "Other"
		if stage, ok := reference.Stage(first[q.Name]); ok {
			group = stage.Code + " " + stage.Name
		}
		out = append(out, web.Option{
			Value: q.Name, Text: web.Words(q.Name) + ", " + q.Unit, Group: group, Needs: strings.Join(neededFields(q), " "),
		})
	}
	slices.SortStableFunc(out, func(a, b web.Option) int { return groupOrder(a.Group) - groupOrder(b.Group) })
	return append([]web.Option{{Text: none}}, out...)
}

// neededFields are the fields of the reading form that a value of the quantity
// has no meaning, or no limit, without.
func neededFields(q defects.Quantity) []string {
	var out []string
	switch q.Needs {
	case defects.NeedNothing:
	case defects.NeedMode:
		out = append(out, "mode")
	default:
		out = append(out, string(q.Needs))
	}
	switch q.Name {
	case "bond_strength":
		out = append(out, "dolly")
	case "fixing_count_board":
		out = append(out, "area_m2")
	case "pull_out_load", "proof_load":
		out = append(out, "set")
	case "air_temperature":
		out = append(out, "trend")
	case "surface_temperature":
		out = append(out, "trend", "air_temperature_c", "relative_humidity")
	case "drying_time":
		out = append(out, "nominal")
	case "position":
		out = append(out, "nominal")
	}
	return out
}

// Needs reports whether a field stands beside the value, since the chosen
// quantity asks for it or it was refused.
func (v readingFormView) Needs(name string) bool {
	q, _ := defects.QuantityByName(typed(v.Form, "quantity"))
	return slices.Contains(neededFields(q), name) || v.Form.Wrong[name] != ""
}

// Unit is the unit of the chosen quantity, "" before one is chosen.
func (v readingFormView) Unit() string {
	q, _ := defects.QuantityByName(typed(v.Form, "quantity"))
	return q.Unit
}

// Trends are the answers to where a temperature is going.
func (readingFormView) Trends() []web.Option {
	return []web.Option{
		{Text: "not stated"},
		{Value: string(defects.Rising), Text: "rising"},
		{Value: string(defects.Steady), Text: "steady"},
		{Value: string(defects.Falling), Text: "falling"},
	}
}

// Extra are the fields that only some quantities need, in their order.
func (readingFormView) Extra() []string {
	return []string{"base_length_m", "courses", "zone", "failure_plane", "dolly", "mode", "nominal", "area_m2", "trend", "air_temperature_c", "relative_humidity", "set", "observations", "expanded_uncertainty"}
}

// measurers are the people who may have measured, the one who types first.
func measurers(members []defects.Membership, a register.Actor) []web.Option {
	out := []web.Option{{Text: "you, " + a.Name}}
	for _, m := range members {
		if m.AccountID != a.AccountID {
			out = append(out, web.Option{Value: m.Login, Text: m.Name + ", " + string(m.Role)})
		}
	}
	return out
}

// nextHere is the reading form for the next value: the same quantity with the
// same tool at the same place, so that only the value is typed.
func nextHere(f frame, rd defects.Reading) string {
	q := map[string]string{
		"quantity": rd.Quantity, "instrument": rd.InstrumentID, "elevation": rd.Place.ElevationID, "opening": rd.Place.Opening,
		"zone": string(rd.Place.Zone), "stage": rd.Stage, "gang": rd.Gang, "batch": rd.Batch, "set": rd.SetID, "dolly": rd.Dolly, "mode": rd.Mode,
	}
	for name, n := range map[string]int{"bay": rd.Place.Bay, "lift": rd.Place.Lift, "courses": rd.Courses} {
		if n > 0 {
			q[name] = strconv.Itoa(n)
		}
	}
	for name, d := range map[string]*defects.Decimal{
		"base_length_m": rd.BaseLength, "nominal": rd.Nominal, "area_m2": rd.Area,
		"air_temperature_c": rd.AirTemperature, "relative_humidity": rd.Humidity,
	} {
		if d != nil {
			q[name] = d.String()
		}
	}
	return f.Path("readings", "new") + "?" + presetQuery(q)
}

func groupOrder(group string) int {
	code, _, _ := strings.Cut(group, " ")
	if n := defects.StageOrder(code); n > 0 {
		return n
	}
	return 1000
}

func outcomeOptions() []web.Option {
	out := []web.Option{{Text: "any verdict"}}
	for _, o := range []defects.Outcome{defects.Fail, defects.ConditionalFail, defects.ConditionalPass, defects.Pass, defects.NoVerdict} {
		out = append(out, web.Option{Value: string(o), Text: outcomeWords(o)})
	}
	return out
}

func outcomeWords(o defects.Outcome) string {
	if o == defects.NoVerdict {
		return "no verdict"
	}
	return strings.ReplaceAll(string(o), "-", " ")
}

// toolOptions lists the instruments and says which are out of calibration.
func toolOptions(tools []defects.Instrument, f frame) []web.Option {
	today := f.today
	out := []web.Option{{Text: "not stated"}}
	for _, t := range tools {
		label := t.Name
		if t.Serial != "" {
			label += ", " + t.Serial
		}
		if _, expired := defects.ExpandedOf(t, today); expired {
			label += " – out of calibration"
		}
		out = append(out, web.Option{Value: t.ID, Text: label})
	}
	return out
}

func setOptions(sets []defects.Set) []web.Option {
	out := []web.Option{{Text: "stands alone"}}
	for _, s := range sets {
		out = append(out, web.Option{Value: s.ID, Text: s.Name + ", " + web.Words(s.Quantity)})
	}
	return out
}

// structureCautions are the lines shown with test results that a designer must
// weigh.
func structureCautions() []defects.Caution {
	return slices.DeleteFunc(reference.Cautions(), func(c defects.Caution) bool { return c.Topic != "Structure" })
}
