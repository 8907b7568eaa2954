package server

import (
	"net/http"
	"strconv"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/evidence"
	"storeyrod/web"
)

// logView is the log as people read it: newest first.
type logView struct {
	frame
	Entries  []logLine
	Older    string // address of the page before
	Newest   string // address of the newest, "" when shown
	Filter   *web.Form
	People   []web.Option
	Kinds    []web.Option
	Subjects []web.Option
}

// logLine is one entry in words, with the page of what it is about.
type logLine struct {
	evidence.Entry
	What string
	On   string // what it is about, by name or number
	Href string
	Text string
}

const logPage = 100

func (s *Server) showLog(c *gin.Context) error {
	f, err := s.onSite(c, "log")
	if err != nil {
		return err
	}
	form := queryForm(c, "filter")
	filter, err := logFilterOf(f, form)
	if err != nil {
		return err
	}
	entries, next, err := s.reg.SearchLog(c.Request.Context(), actorOf(c), filter, logPage)
	if err != nil {
		return err
	}
	names, people, err := s.namesOf(c, f)
	if err != nil {
		return err
	}
	v := logView{frame: f, Filter: form, People: people, Kinds: kindOptions(), Subjects: subjectOptions()}
	if next > 0 {
		v.Older = withQuery(c, "before", strconv.FormatInt(next, 10))
	}
	if filter.Before > 0 {
		v.Newest = withQuery(c, "before", "")
	}
	for _, e := range entries {
		v.Entries = append(v.Entries, logLine{
			Entry: e, What: kindWords(e.Kind), On: subjectWords(e, names), Href: subjectHref(f, e), Text: string(e.Data),
		})
	}
	return s.render(c, http.StatusOK, "log", v)
}

// logFilterOf reads what is asked for; a day is one of the site's calendar.
func logFilterOf(f frame, form *web.Form) (register.LogFilter, error) {
	out := register.LogFilter{SiteID: f.Site.ID, ByID: typed(form, "by"), Kind: typed(form, "kind"), SubjectType: typed(form, "type")}
	if text := typed(form, "before"); text != "" {
		var err error
		if out.Before, err = strconv.ParseInt(text, 10, 64); err != nil || out.Before < 1 {
			return out, defects.RefuseField(defects.Invalid, "before", "bad_number", "must be a log position from 1")
		}
	}
	if text := typed(form, "number"); text != "" {
		n, err := strconv.Atoi(strings.TrimPrefix(strings.ToUpper(text), "SN-"))
		if err != nil || n < 1 {
			return out, defects.RefuseField(defects.Invalid, "number", "bad_number", "write the snag's number, such as SN-0004")
		}
		out.Number, out.SubjectType = n, "snag"
	}
	if day := typed(form, "day"); day != "" {
		at, err := time.ParseInLocation(time.DateOnly, day, f.zone)
		if err != nil {
			return out, defects.RefuseField(defects.Invalid, "day", "bad_date", "write the day as 2026-03-31")
		}
		out.Since, out.Until = at, at.AddDate(0, 0, 1)
	}
	return out, nil
}

// namesOf gives the names of a site's things by id, and its people as choices.
func (s *Server) namesOf(c *gin.Context, f frame) (map[string]string, []web.Option, error) {
	ctx, a := c.Request.Context(), actorOf(c)
	names := map[string]string{f.Site.ID: f.Site.Name}
	buildings, err := s.reg.Buildings(ctx, a, f.Site.ID)
	if err != nil {
		return nil, nil, err
	}
	for _, b := range buildings {
		names[b.ID] = b.Name
	}
	walls, err := s.reg.Elevations(ctx, a, f.Site.ID)
	if err != nil {
		return nil, nil, err
	}
	for id, name := range wallNames(walls) {
		names[id] = name
	}
	tools, err := s.reg.Instruments(ctx, a, f.Site.ID)
	if err != nil {
		return nil, nil, err
	}
	for _, t := range tools {
		names[t.ID] = t.Name
	}
	members, err := s.reg.Members(ctx, a, f.Site.ID)
	if err != nil {
		return nil, nil, err
	}
	people := []web.Option{{Text: "anybody"}}
	for _, m := range members {
		names[m.AccountID] = m.Name
		people = append(people, web.Option{Value: m.AccountID, Text: m.Name + ", " + string(m.Role)})
	}
	return names, people, nil
}

// logKind is a kind of entry and what it is called.
type logKind struct{ kind, words string }

func logKinds() []logKind {
	kinds := []logKind{
		{"site.add", "site made"},
		{"site.update", "site changed"},
		{"member.set", "role given"},
		{"building.add", "building added"},
		{"building.update", "building changed"},
		{"elevation.add", "elevation added"},
		{"elevation.update", "elevation changed"},
		{"milestone.set", "date set"},
		{"milestone.delete", "date taken away"},
		{"photo.take", "photo taken in"},
		{"photo.update", "photo changed"},
		{"reading.add", "reading entered"},
		{"reading.withdraw", "reading withdrawn"},
		{"reading.rejudge", "reading judged anew"},
		{"set.create", "test set begun"},
		{"set.judge", "test set judged"},
		{"set.state", "designer's statement noted"},
		{"instrument.add", "instrument added"},
		{"instrument.calibrate", "certificate added"},
		{"instrument.repeat", "repeats with an instrument stated"},
		{"schedule.add", "limits added"},
		{"rejudgement.decide", "judging anew decided"},
		{"rejudgement.done", "judging anew carried out"},
		{"survey.add", "survey entered"},
		{"survey.withdraw", "survey withdrawn"},
		{"survey.rejudge", "survey judged anew"},
		{"weather.add", "weather noted"},
		{"weather.withdraw", "weather line withdrawn"},
		{"snag-place.update", "place of a snag worked out anew"},
		{"hold.release", "hold point released"},
		{"hold.refuse", "hold point refused"},
		{"hold.lapse", "hold point lapsed after notice"},
	}
	kinds = append(kinds, logKind{"snag.raise", "snag raised"})
	for _, step := range defects.Steps() {
		title := map[defects.Step]string{
			defects.StepInstruct: "instructed", defects.StepAcknowledge: "acknowledged", defects.StepOffer: "offered",
			defects.StepRefuse: "offer refused", defects.StepClose: "closed or signed", defects.StepDispute: "disputed",
			defects.StepDecide: "dispute decided", defects.StepDefer: "deferred", defects.StepConcede: "concession",
			defects.StepWithdraw: "withdrawn", defects.StepReopen: "reopened",
		}[step]
		if title != "" {
			kinds = append(kinds, logKind{"snag." + string(step), "snag " + title})
		}
	}
	return kinds
}

// kindWords is what a kind of entry is called; one without words keeps its own.
func kindWords(kind string) string {
	for _, k := range logKinds() {
		if k.kind == kind {
			return k.words
		}
	}
	return strings.NewReplacer(".", " ", "-", " ", "_", " ").Replace(kind)
}

func kindOptions() []web.Option {
	out := []web.Option{{Text: "anything"}}
	for _, k := range logKinds() {
		out = append(out, web.Option{Value: k.kind, Text: k.words})
	}
	return out
}

func subjectOptions() []web.Option {
	out := []web.Option{{Text: "anything"}}
	for _, t := range []string{"snag", "photo", "reading", "set", "release", "elevation", "building", "milestone", "instrument", "schedule", "member", "site"} {
		out = append(out, web.Option{Value: t, Text: subjectType(t)})
	}
	return out
}

// subjectType is what a type of subject is called.
func subjectType(t string) string {
	words := map[string]string{"set": "test set", "release": "hold point", "milestone": "date", "schedule": "limits", "member": "person"}
	if w := words[t]; w != "" {
		return w
	}
	return t
}

// subjectWords names what an entry is about: a snag by its number, a thing of
// the site by its name.
func subjectWords(e evidence.Entry, names map[string]string) string {
	if e.Subject.Type == "snag" {
		return defects.SnagRef(e.Subject.Number)
	}
	return strings.TrimSpace(subjectType(e.Subject.Type) + " " + names[e.Subject.ID])
}

// subjectHref is the page of what an entry is about.
func subjectHref(f frame, e evidence.Entry) string {
	switch e.Subject.Type {
	case "snag":
		return f.Path("snags", strconv.Itoa(e.Subject.Number))
	case "photo":
		return f.Path("photos", e.Subject.ID)
	case "reading":
		return f.Path("readings", e.Subject.ID)
	case "set":
		return f.Path("sets", e.Subject.ID)
	case "elevation":
		return f.Path("elevations", e.Subject.ID)
	case "building":
		return f.Path("buildings", e.Subject.ID)
	case "instrument":
		return f.Path("instruments") + "#" + e.Subject.ID
	case "milestone":
		return f.Path("dates")
	case "release":
		return f.Path("hold-points")
	case "schedule":
		return f.Path("limits")
	case "member":
		return f.Path("people")
	case "site":
		return f.Path()
	}
	return ""
}
