package server

import (
	"net/http"
	"slices"
	"strconv"
	"time"

	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/defects/statistics"
	"storeyrod/web"
)

// readingView is one reading with its verdict and what it asks for.
type readingView struct {
	frame
	Item     readingLine
	Limit    string
	FollowUp *register.FollowUp
	Next     string // address of the form for the next value here; "" for who adds none
	Withdraw *web.Form
	Rejudge  *web.Form
	Rights   readingRights
	Past     []register.PastVerdict
	Budget   budgetView
	readingProof
}

// readingProof is what an auditor asks of a reading: with what it was measured,
// whether that was in calibration on the day, where its uncertainty comes from,
// and who entered it.
type readingProof struct {
	Tool        *defects.Instrument
	Certificate *defects.Calibration // in force on the day, else the latest
	Calibrated  string
	USource     string
	EnteredBy   string
}

// proofOf looks up what stands behind a reading.
func (s *Server) proofOf(c *gin.Context, f frame, rd defects.Reading) (readingProof, error) {
	p := readingProof{USource: uncertaintySource(rd, nil, nil)}
	ctx, a := c.Request.Context(), actorOf(c)
	members, err := s.reg.Members(ctx, a, f.Site.ID)
	if err != nil {
		return p, err
	}
	if i := slices.IndexFunc(members, func(m defects.Membership) bool { return m.AccountID == rd.EnteredBy }); i >= 0 {
		p.EnteredBy = members[i].Name + ", " + string(members[i].Role)
	} else if rd.EnteredBy == rd.ByID {
		p.EnteredBy = rd.ByName
	}
	if rd.InstrumentID == "" {
		return p, nil
	}
	tools, err := s.reg.Instruments(ctx, a, f.Site.ID)
	if err != nil {
		return p, err
	}
	if i := slices.IndexFunc(tools, func(t defects.Instrument) bool { return t.ID == rd.InstrumentID }); i >= 0 {
		day := rd.MeasuredAt.In(f.zone).Format(time.DateOnly)
		p.Tool = &tools[i]
		p.Certificate, p.Calibrated = calibrationOn(tools[i], day)
		p.USource = uncertaintySource(rd, p.Tool, p.Certificate)
	}
	return p, nil
}

// calibrationOn finds the certificate in force on a day, else the latest one,
// and says how the instrument stood on that day.
func calibrationOn(tool defects.Instrument, day string) (*defects.Calibration, string) {
	if len(tool.Calibrations) == 0 {
		return nil, "no certificate on record"
	}
	latest := &tool.Calibrations[0]
	for i, c := range tool.Calibrations {
		if c.On <= day && (c.Due == "" || day <= c.Due) {
			return &tool.Calibrations[i], "in calibration on the day"
		}
		if c.On > latest.On {
			latest = &tool.Calibrations[i]
		}
	}
	return latest, "not in calibration on the day"
}

// uncertaintySource says where the U of a verdict comes from, in the order in
// which the register looks for it.
func uncertaintySource(rd defects.Reading, tool *defects.Instrument, cert *defects.Calibration) string {
	switch {
	case rd.Expanded != nil:
		return "as entered with the reading"
	case tool == nil:
		return "as it stood when the reading was judged"
	case cert != nil && cert.Expanded != nil:
		return "from certificate " + cert.Certificate
	case tool.Expanded != nil:
		return "stated for the instrument, not by a certificate"
	}
	return "from the instrument's resolution alone"
}

type readingRights struct{ Withdraw, Rejudge bool }

// zoneKey is where a request keeps the zone of its site once it is known.
const zoneKey = "storeyrod.zone"

// zoneOfSite is the time zone that a time typed on a page is in. A table of
// refused rows asks for it once a row.
func (s *Server) zoneOfSite(c *gin.Context) *time.Location {
	if known, ok := c.Get(zoneKey); ok {
		return known.(*time.Location)
	}
	f, err := s.onSite(c, "")
	if err != nil {
		return time.UTC
	}
	return f.zone
}

func (s *Server) readingPage(c *gin.Context) (readingView, error) {
	f, err := s.onSite(c, "readings")
	if err != nil {
		return readingView{}, err
	}
	ctx, a := c.Request.Context(), actorOf(c)
	rd, err := s.reg.Reading(ctx, a, f.Site.ID, c.Param("reading"))
	if err != nil {
		return readingView{}, err
	}
	walls, err := s.reg.Elevations(ctx, a, f.Site.ID)
	if err != nil {
		return readingView{}, err
	}
	f.Trail = []navLink{{Title: "Readings", Href: f.Path("readings")}}
	v := readingView{
		frame: f, Item: readingLines([]defects.Reading{rd}, wallNames(walls))[0],
		Withdraw: web.NewForm("withdraw").Set("version", strconv.Itoa(rd.Version)),
		Limit:    defects.LimitWords(rd.Verdict, rd.Unit),
		Rejudge:  web.NewForm("rejudge").Set("version", strconv.Itoa(rd.Version)),
	}
	if v.readingProof, err = s.proofOf(c, f, rd); err != nil {
		return v, err
	}
	budget, err := s.reg.BudgetOf(ctx, a, f.Site.ID, rd.ID)
	if err != nil {
		return v, err
	}
	v.Budget = newBudgetView(budget)
	if v.Past, err = s.reg.VerdictHistory(ctx, a, f.Site.ID, rd.ID); err != nil {
		return v, err
	}
	role := f.view.Role
	if role.May(defects.AddReading) {
		v.Next = nextHere(f, rd)
	}
	own := rd.ByID == a.AccountID || rd.EnteredBy == a.AccountID
	v.Rights.Withdraw = rd.Withdrawn == "" && (role.May(defects.WithdrawReading) || own && role.May(defects.AddReading))
	v.Rights.Rejudge = rd.Withdrawn == "" && role.May(defects.SetLimits)
	follow, err := s.reg.FollowUps(ctx, a, f.Site.ID, rd.Place.ElevationID)
	if i := slices.IndexFunc(follow, func(u register.FollowUp) bool { return u.ReadingID == rd.ID }); i >= 0 {
		v.FollowUp = &follow[i]
	}
	return v, err
}

// Unstated says what a verdict had to do without.
func (v readingView) Unstated() string {
	rd := v.Item.Reading
	noU := rd.Verdict.Outcome != defects.NoVerdict && rd.Verdict.Expanded == nil
	switch {
	case rd.InstrumentID == "" && noU:
		return "No instrument and no uncertainty U is stated: the verdict rests on the bare value."
	case noU:
		return "No uncertainty U is known: the verdict rests on the bare value."
	case rd.InstrumentID == "":
		return "No instrument is stated."
	}
	return ""
}

func (s *Server) showReading(c *gin.Context) error {
	v, err := s.readingPage(c)
	if err != nil {
		return err
	}
	return s.render(c, http.StatusOK, "reading", v)
}

func (s *Server) postWithdraw(c *gin.Context) error {
	form, err := readForm(c, "withdraw")
	if err != nil {
		return err
	}
	_, err = s.reg.WithdrawReading(c.Request.Context(), actorOf(c), c.Param("site"), c.Param("reading"), seenVersion(form), typed(form, "reason"))
	return s.readingChanged(c, form, err, "withdrawn", func(v *readingView) { v.Withdraw = form })
}

func (s *Server) postRejudge(c *gin.Context) error {
	form, err := readForm(c, "rejudge")
	if err != nil {
		return err
	}
	_, err = s.reg.Rejudge(c.Request.Context(), actorOf(c), c.Param("site"), c.Param("reading"), seenVersion(form), typed(form, "reason"))
	return s.readingChanged(c, form, err, "rejudged", func(v *readingView) { v.Rejudge = form })
}

func (s *Server) readingChanged(c *gin.Context, form *web.Form, err error, done string, keep func(*readingView)) error {
	if err == nil {
		return seeOther(c, sitePath(c.Param("site"), "readings", c.Param("reading"))+"?done="+done)
	}
	r, ok := s.refused(c, form, err)
	if !ok {
		return err
	}
	v, err := s.readingPage(c)
	if err != nil {
		return err
	}
	form.Values.Set("version", strconv.Itoa(v.Item.Version))
	keep(&v)
	v.Notice = r.notice
	return s.render(c, r.status, "reading", v)
}

// setsView is the list of test sets with the form that starts one.
type setsView struct {
	frame
	Sets       []setLine
	Form       *web.Form
	Quantities []web.Option
	Walls      []web.Option
	Stages     []web.Option
}

type setLine struct {
	defects.Set
	Wall string
}

func (s *Server) setsPage(c *gin.Context) (setsView, error) {
	f, err := s.onSite(c, "sets")
	if err != nil {
		return setsView{}, err
	}
	sets, err := s.reg.Sets(c.Request.Context(), actorOf(c), f.Site.ID)
	if err != nil {
		return setsView{}, err
	}
	walls, err := s.reg.Elevations(c.Request.Context(), actorOf(c), f.Site.ID)
	if err != nil {
		return setsView{}, err
	}
	v := setsView{
		frame: f, Form: web.NewForm("f").Set("quantity", "pull_out_load").Set("stage", "SV"),
		Quantities: quantityOptions("choose"), Walls: wallOptions(walls, "on no elevation"), Stages: stageOptions("not stated"),
	}
	for _, set := range sets {
		v.Sets = append(v.Sets, setLine{Set: set, Wall: wallNames(walls)[set.Place.ElevationID]})
	}
	return v, nil
}

func (s *Server) showSets(c *gin.Context) error {
	v, err := s.setsPage(c)
	if err != nil {
		return err
	}
	return s.render(c, http.StatusOK, "sets", v)
}

func (s *Server) postSet(c *gin.Context) error {
	form, err := readForm(c, "f")
	if err != nil {
		return err
	}
	place, err := typedPlace(form)
	var set defects.Set
	if err == nil {
		n := register.NewSet{
			Quantity: typed(form, "quantity"), Name: typed(form, "name"), Substrate: typed(form, "substrate"),
			Stage: typed(form, "stage"), Place: place,
		}
		set, err = s.reg.CreateSet(c.Request.Context(), actorOf(c), c.Param("site"), n)
	}
	if err == nil {
		return seeOther(c, sitePath(c.Param("site"), "sets", set.ID)+"?done=added")
	}
	r, ok := s.refused(c, form, err)
	if !ok {
		return err
	}
	v, err := s.setsPage(c)
	if err != nil {
		return err
	}
	v.Form, v.Notice = form, r.notice
	return s.render(c, r.status, "sets", v)
}

type setView struct {
	frame
	Set      defects.Set
	Wall     string
	Readings []readingLine
	Cautions []defects.Caution
	Spread   *spreadView // nil for a set without readings
}

func (s *Server) showSet(c *gin.Context) error {
	v, err := s.setPage(c)
	if err != nil {
		return err
	}
	switch v.Set.Quantity {
	case "pull_out_load":
		return s.showPullOutSet(c, v, queryForm(c, "z"), nil)
	case "bond_strength":
		return s.showBondSet(c, v)
	case "proof_load":
		return s.showProofSet(c, v, queryForm(c, "p"), nil)
	}
	if len(v.Readings) > 0 {
		filter := register.ReadingFilter{SiteID: v.Site.ID, Quantity: v.Set.Quantity, SetID: v.Set.ID}
		found, err := s.reg.ReadingStatistics(c.Request.Context(), actorOf(c), filter, statistics.Wanted{})
		if err != nil {
			return err
		}
		v.Spread = newSpreadView(found, v.frame)
	}
	return s.render(c, http.StatusOK, "set", v)
}

func (s *Server) setPage(c *gin.Context) (setView, error) {
	f, err := s.onSite(c, "sets")
	if err != nil {
		return setView{}, err
	}
	set, readings, err := s.reg.Set(c.Request.Context(), actorOf(c), f.Site.ID, c.Param("set"))
	if err != nil {
		return setView{}, err
	}
	walls, err := s.reg.Elevations(c.Request.Context(), actorOf(c), f.Site.ID)
	if err != nil {
		return setView{}, err
	}
	f.Trail = []navLink{{Title: "Test sets", Href: f.Path("sets")}}
	names := wallNames(walls)
	return setView{frame: f, Set: set, Wall: names[set.Place.ElevationID], Readings: readingLines(readings, names), Cautions: structureCautions()}, nil
}
