package register

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"storeyrod/defects"
)

// clockSlack is how far a device's clock may run ahead of the server's.
const clockSlack = 5 * time.Minute

// maxCourses bounds the number of courses a gauge is taken over.
const maxCourses = 100

// maxReadingPhotos bounds the photos named with one reading.
const maxReadingPhotos = 20

// ReadingInput is one reading as somebody typed it. Numbers are text, so that
// nothing is rounded before it is understood.
type ReadingInput struct {
	Row            int    // position in a batch or file, for messages
	ID             string // the client's own id, once a site; sent again it is the same reading
	Repeat         int    // how many rows like this one come before it in the same file or batch
	Quantity       string
	Value          string
	Observations   string // values with spaces between, whose mean is the value; "" = it is one value
	Unit           string // must be the quantity's own; nothing is converted
	Expanded       string // U (k = 2) in Unit; "" = from calibration or instrument
	BaseLength     string // metres
	Courses        int
	FailurePlane   string
	Mode           string
	Nominal        string // design or sample value in Unit, for a limit relative to it
	Trend          string // temperatures: rising, falling or steady; "" = not stated
	AirTemperature string // °C of the air beside a surface
	Humidity       string // its relative humidity in %
	Area           string // square metres of the board counted on
	Dolly          string
	InstrumentID   string // id or name; "" = none stated
	MeasuredAt     string // RFC 3339; "" = now
	ByLogin        string // "" = the actor
	Gang           string
	Batch          string
	Stage          string
	ElevationID    string // id, "Building / Name", or a name used once on the site
	X, Z           string // metres
	Bay, Lift      int
	Opening        string
	Zone           string
	Photos         []string
	Note           string
	SetID          string // id, or a name used once on the site
	Confirmed      bool   // the value looks implausible, or U is 0, and is right as typed

	alone bool // not of a batch: two equal values typed one after the other are two readings
}

// ReadingResult is what became of one reading of a batch: Err, or Reading with
// what to do next.
type ReadingResult struct {
	Row      int
	Known    bool // Reading was stored before, and nothing was written
	Reading  defects.Reading
	FollowUp *FollowUp
	Err      *defects.Error
}

// reading understands one input, in the order a person would ask: what, how
// much, by whom, when, with what, where. It decides nothing about quality.
func (b *bench) reading(in ReadingInput) (defects.Reading, error) {
	rd := defects.Reading{SiteID: b.site.ID, EnteredBy: b.actor.AccountID, EnteredName: b.actor.Name, EnteredAt: b.now}
	steps := []func(*defects.Reading, ReadingInput) error{
		b.takeValue, b.takeWords, b.takePerson, b.takeTime, b.takeTool, b.takeSet, b.takePlace, b.takePhotos,
	}
	for _, step := range steps {
		if err := step(&rd, in); err != nil {
			return defects.Reading{}, err
		}
	}
	return rd, nil
}

// takeValue reads the number, exactly, and asks about one that can hardly be
// meant. A confirmed value is kept as typed.
func (b *bench) takeValue(rd *defects.Reading, in ReadingInput) error {
	q, ok := defects.QuantityByName(in.Quantity)
	if !ok {
		return defects.RefuseField(defects.Invalid, "quantity", "unknown_quantity",
			fmt.Sprintf("%q is no quantity that is recorded here", shorten(in.Quantity, 60)))
	}
	value, observations, err := observed(in)
	if err != nil {
		return err
	}
	if err := defects.CheckUnit(q, in.Unit); err != nil {
		return err
	}
	if len(observations) > 0 && counted(q) {
		return defects.RefuseField(defects.Invalid, "observations", "counted_not_measured", "what is counted is one figure, not a mean")
	}
	rd.Quantity, rd.Value, rd.Observations, rd.Unit = q.Name, value, observations, q.Unit
	if rd.Expanded, err = optionalDecimal("expanded_uncertainty", in.Expanded, true); err != nil {
		return err
	}
	if rd.BaseLength, err = optionalDecimal("base_length_m", in.BaseLength, false); err != nil {
		return err
	}
	if rd.Area, err = optionalDecimal("area_m2", in.Area, false); err != nil {
		return err
	}
	if rd.Nominal, err = optionalDecimal("nominal", in.Nominal, true); err != nil {
		return err
	}
	if err := takeAir(rd, in); err != nil {
		return err
	}
	if in.Courses < 0 || in.Courses > maxCourses {
		return defects.RefuseField(defects.Invalid, "courses", "bad_number", fmt.Sprintf("must be 0 to %d", maxCourses))
	}
	rd.Courses = in.Courses
	doubt := defects.Plausible(q, value)
	if doubt != nil && !in.Confirmed {
		return question(doubt)
	}
	exact := rd.Expanded != nil && rd.Expanded.Sign() == 0 && !counted(q)
	if exact && !in.Confirmed {
		return defects.RefuseField(defects.Question, "expanded_uncertainty", "no_uncertainty",
			"nothing is measured without uncertainty; leave U empty to take the instrument's, or confirm that 0 is meant")
	}
	rd.Confirmed = doubt != nil || exact
	return nil
}

// takeAir reads what a temperature's limit may depend on.
func takeAir(rd *defects.Reading, in ReadingInput) (err error) {
	rd.Trend = defects.Trend(strings.TrimSpace(in.Trend))
	if !defects.KnownTrend(rd.Trend) {
		return defects.RefuseField(defects.Invalid, "trend", "unknown_trend", "a temperature is rising, falling or steady")
	}
	for _, f := range []struct {
		field, quantity, text string
		to                    **defects.Decimal
	}{
		{"air_temperature_c", "air_temperature", in.AirTemperature, &rd.AirTemperature},
		{"relative_humidity", "relative_humidity", in.Humidity, &rd.Humidity},
	} {
		if strings.TrimSpace(f.text) == "" {
			continue
		}
		d, err := defects.ParseDecimal(f.text)
		if err != nil {
			return inField(err, f.field)
		}
		q, _ := defects.QuantityByName(f.quantity)
		if d.Less(q.PlausibleMin) || q.PlausibleMax.Less(d) {
			return defects.RefuseField(defects.Invalid, f.field, "bad_number",
				fmt.Sprintf("must be %s to %s %s", q.PlausibleMin, q.PlausibleMax, q.Unit))
		}
		*f.to = &d
	}
	return nil
}

// counted reports a quantity that is counted, not measured: its figure can be
// without uncertainty.
func counted(q defects.Quantity) bool {
	return q.Unit == "count" || q.Unit == "1/m2" || q.Unit == "month" || q.Unit == "d"
}

// question is a doubt as a refusal, with the guess where a program can find it.
func question(d *defects.Doubt) *defects.Error {
	e := d.AsError("value")
	if d.Suggestion != nil && !slices.ContainsFunc(e.Details, func(x defects.Detail) bool { return x.Code == "suggestion" }) {
		e.Details = append(e.Details, defects.Detail{Field: "value", Code: "suggestion", Text: d.Suggestion.String()})
	}
	return e
}

// optionalDecimal reads a number above zero, or from zero up when zero says
// something.
func optionalDecimal(field, text string, zero bool) (*defects.Decimal, error) {
	if strings.TrimSpace(text) == "" {
		return nil, nil
	}
	d, err := defects.ParseDecimal(text)
	if err != nil {
		return nil, inField(err, field)
	}
	if d.Sign() < 0 || (d.Sign() == 0 && !zero) {
		return nil, defects.RefuseField(defects.Invalid, field, "bad_number", d.String()+" is too small to be one")
	}
	return &d, nil
}

func (b *bench) takeWords(rd *defects.Reading, in ReadingInput) (err error) {
	words := []struct {
		field string
		from  string
		to    *string
	}{
		{"id", in.ID, &rd.ClientID},
		{"failure_plane", in.FailurePlane, &rd.FailurePlane},
		{"mode", in.Mode, &rd.Mode},
		{"dolly", in.Dolly, &rd.Dolly},
		{"gang", in.Gang, &rd.Gang},
		{"batch", in.Batch, &rd.Batch},
		{"stage", in.Stage, &rd.Stage},
	}
	for _, w := range words {
		if *w.to, err = cleanText(w.field, w.from, maxWord); err != nil {
			return err
		}
	}
	if err := checkStage(rd.Stage); err != nil {
		return err
	}
	rd.Note, err = cleanNote("note", in.Note)
	return err
}

// takePerson settles who measured and whose work it is. An operative records
// the work of his own gang.
func (b *bench) takePerson(rd *defects.Reading, in ReadingInput) error {
	rd.ByID, rd.ByName = b.actor.AccountID, b.actor.Name
	if login := strings.ToLower(strings.TrimSpace(in.ByLogin)); login != "" {
		at := slices.IndexFunc(b.members, func(m defects.Membership) bool { return m.Login == login })
		if at < 0 {
			return defects.RefuseField(defects.Invalid, "by", "person_not_found",
				fmt.Sprintf("nobody on this site signs in as %q", shorten(login, 60)))
		}
		if err := b.mayNameAs(b.members[at]); err != nil {
			return err
		}
		rd.ByID, rd.ByName = b.members[at].AccountID, b.members[at].Name
	}
	if b.me.Role == defects.Operative {
		if rd.Gang != "" && rd.Gang != b.me.Gang {
			return defects.RefuseField(defects.Forbidden, "gang", "other_gang", "an operative records the work of his own gang")
		}
		rd.Gang = b.me.Gang
	}
	return nil
}

// mayNameAs keeps those whose word accepts or refuses work from being named as
// the measurer by somebody else: only who inspects or instructs may do that.
func (b *bench) mayNameAs(who defects.Membership) error {
	if who.AccountID == b.actor.AccountID || !accepting(who.Role) || namesOthers(b.me.Role) {
		return nil
	}
	return defects.RefuseField(defects.Forbidden, "by", "by_other_role",
		fmt.Sprintf("%s is %s here and enters his own readings; a clerk or manager may enter them for him", who.Name, who.Role))
}

// accepting reports a role that others' work is judged by.
func accepting(r defects.Role) bool {
	return r == defects.Clerk || r == defects.Auditor || r == defects.Designer || r == defects.Owner
}

// namesOthers reports a role that may enter readings for an accepting one.
func namesOthers(r defects.Role) bool { return r == defects.Clerk || r == defects.Manager }

func (b *bench) takeTime(rd *defects.Reading, in ReadingInput) error {
	rd.MeasuredAt = b.now
	if strings.TrimSpace(in.MeasuredAt) == "" {
		return nil
	}
	at, err := time.Parse(time.RFC3339, strings.TrimSpace(in.MeasuredAt))
	if err != nil || at.Year() < 1990 {
		return defects.RefuseField(defects.Invalid, "measured_at", "bad_time",
			"write date, time and offset as in 2026-03-31T09:30:00+01:00")
	}
	if at.After(b.now.Add(clockSlack)) {
		return defects.RefuseField(defects.Invalid, "measured_at", "in_the_future",
			"lies in the future; look at the clock of the device")
	}
	rd.MeasuredAt = at.UTC().Truncate(time.Microsecond)
	return nil
}

func (b *bench) takeTool(rd *defects.Reading, in ReadingInput) error {
	if in.InstrumentID == "" {
		return nil
	}
	tool, err := findTool(b.tools, in.InstrumentID)
	if err != nil {
		return err
	}
	rd.InstrumentID, rd.Instrument = tool.ID, tool.Name
	return nil
}

// takeSet joins a set, which gives the place and stage where the reading does
// not state its own.
func (b *bench) takeSet(rd *defects.Reading, in ReadingInput) error {
	if in.SetID == "" {
		return nil
	}
	set, err := findSet(b.sets, in.SetID)
	if err != nil {
		return err
	}
	if set.Quantity != rd.Quantity {
		return defects.RefuseField(defects.Invalid, "set", "set_of_other_quantity",
			fmt.Sprintf("the set %q is of %s, not of %s", set.Name, set.Quantity, rd.Quantity))
	}
	rd.SetID = set.ID
	if rd.Stage == "" {
		rd.Stage = set.Stage
	}
	rd.Place.ElevationID = set.Place.ElevationID
	return nil
}

// findSet takes an id or a name that only one set of the site has.
func findSet(list []defects.Set, named string) (defects.Set, error) {
	return onlyOne("set", named, defects.Named(list, named, func(s defects.Set) string { return s.ID },
		func(s defects.Set) []string { return []string{s.Name} }))
}

// takePlace finds the wall and completes the place on it.
func (b *bench) takePlace(rd *defects.Reading, in ReadingInput) error {
	typed := defects.Place{Bay: in.Bay, Lift: in.Lift, Opening: strings.TrimSpace(in.Opening), Zone: defects.Zone(strings.TrimSpace(in.Zone))}
	var err error
	if typed.X, err = optionalMetres("x_m", in.X); err != nil {
		return err
	}
	if typed.Z, err = optionalMetres("z_m", in.Z); err != nil {
		return err
	}
	named := strings.TrimSpace(in.ElevationID)
	if named == "" {
		named = rd.Place.ElevationID
	}
	if named == "" {
		return b.takeNowhere(rd, typed)
	}
	wall, err := findElevation(b.elevations, named)
	if err != nil {
		return err
	}
	if own := rd.Place.ElevationID; own != "" && own != wall.ID {
		return defects.RefuseField(defects.Invalid, "elevation", "set_elsewhere", "its set was taken on another elevation")
	}
	rd.Place, err = defects.Locate(wall, typed)
	return err
}

// takeNowhere takes a reading that is on no elevation, such as a temperature
// of the site. Its zone may still be known.
func (b *bench) takeNowhere(rd *defects.Reading, typed defects.Place) error {
	if typed.X != nil || typed.Z != nil || typed.Bay != 0 || typed.Lift != 0 || typed.Opening != "" {
		return defects.RefuseField(defects.Invalid, "elevation", "elevation_missing", "a place on a wall needs the elevation it is on")
	}
	if !defects.KnownZone(typed.Zone) {
		return defects.RefuseField(defects.Invalid, "zone", "unknown_zone", "must be field, edge or ground")
	}
	rd.Place = typed
	return nil
}

func optionalMetres(field, text string) (*defects.MM, error) {
	if strings.TrimSpace(text) == "" {
		return nil, nil
	}
	d, err := defects.ParseDecimal(text)
	if err != nil {
		return nil, inField(err, field)
	}
	mm, err := defects.MMFromMetres(d)
	if err != nil {
		return nil, inField(err, field)
	}
	return &mm, nil
}

func (b *bench) takePhotos(rd *defects.Reading, in ReadingInput) error {
	if len(in.Photos) > maxReadingPhotos {
		return defects.RefuseField(defects.Invalid, "photos", "too_many_photos", fmt.Sprintf("at most %d", maxReadingPhotos))
	}
	for _, id := range in.Photos {
		if !b.photos[id] {
			return defects.RefuseField(defects.Invalid, "photos", "photo_not_found", fmt.Sprintf("this site has no photo %q", shorten(id, 60)))
		}
		if !slices.Contains(rd.Photos, id) {
			rd.Photos = append(rd.Photos, id)
		}
	}
	return nil
}
