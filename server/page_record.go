package server

import (
	"net/http"
	"strconv"

	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/defects/reference"
	"storeyrod/evidence"
	"storeyrod/web"
)

func (s *Server) addRecordPages() {
	s.page(http.MethodGet, "/sites/:site/people", signedIn, s.showPeople)
	s.page(http.MethodPost, "/sites/:site/people", may(defects.EditPeople), s.postRole)
	s.page(http.MethodGet, "/sites/:site/log", may(defects.ViewLog), s.showLog)
	s.page(http.MethodGet, "/sites/:site/cautions", may(defects.ViewSite), s.showCautions)
}

type peopleView struct {
	frame
	Members []defects.Membership
	Form    *web.Form
	Roles   []web.Option
	MayEdit bool
}

func (s *Server) peoplePage(c *gin.Context) (peopleView, error) {
	f, err := s.onSite(c, "people")
	if err != nil {
		return peopleView{}, err
	}
	members, err := s.reg.Members(c.Request.Context(), actorOf(c), f.Site.ID)
	if err != nil {
		return peopleView{}, err
	}
	return peopleView{
		frame: f, Members: members, Form: queryForm(c, "f"), Roles: roleOptions(),
		MayEdit: f.view.Role.May(defects.EditPeople) || f.Actor.Admin,
	}, nil
}

func roleOptions() []web.Option {
	words := map[defects.Role]string{
		defects.Clerk: "clerk of works: inspects, accepts or refuses", defects.Installer: "installer: makes good, offers",
		defects.Operative: "operative: does the work, takes photos and readings", defects.Auditor: "auditor: reads all, changes nothing",
		defects.Designer: "designer: decides technically, sets limits", defects.Manager: "manager: administers the contract, instructs",
		defects.Owner: "owner: accepts what affects value",
	}
	out := []web.Option{{Text: "none: no longer of this site"}}
	for _, r := range defects.Roles() {
		out = append(out, web.Option{Value: string(r), Text: words[r]})
	}
	return out
}

func (s *Server) showPeople(c *gin.Context) error {
	v, err := s.peoplePage(c)
	if err != nil {
		return err
	}
	return s.render(c, http.StatusOK, "people", v)
}

func (s *Server) postRole(c *gin.Context) error {
	form, err := readForm(c, "f")
	if err != nil {
		return err
	}
	err = s.reg.SetRole(c.Request.Context(), actorOf(c), c.Param("site"), typed(form, "login"), defects.Role(typed(form, "role")), typed(form, "gang"))
	if err == nil {
		return seeOther(c, sitePath(c.Param("site"), "people")+"?done=saved")
	}
	r, ok := s.refused(c, form, err)
	if !ok {
		return err
	}
	v, err := s.peoplePage(c)
	if err != nil {
		return err
	}
	v.Form, v.Notice = form, r.notice
	return s.render(c, r.status, "people", v)
}

type logView struct {
	frame
	Entries []logLine
	Next    string
}

// logLine is one entry with the page of what it is about, where there is one.
type logLine struct {
	evidence.Entry
	Href string
	Text string
}

const logPage = 100

// showLog reads the log in its own order from a sequence number on.
func (s *Server) showLog(c *gin.Context) error {
	f, err := s.onSite(c, "log")
	if err != nil {
		return err
	}
	from, err := strconv.ParseInt(c.DefaultQuery("from", "1"), 10, 64)
	if err != nil || from < 1 {
		return defects.RefuseField(defects.Invalid, "from", "bad_number", "must be a log position from 1")
	}
	entries, err := s.reg.LogEntries(c.Request.Context(), actorOf(c), f.Site.ID, from, logPage+1)
	if err != nil {
		return err
	}
	v := logView{frame: f}
	if len(entries) > logPage {
		v.Next = f.Path("log") + "?from=" + strconv.FormatInt(entries[logPage].Seq, 10)
		entries = entries[:logPage]
	}
	for _, e := range entries {
		v.Entries = append(v.Entries, logLine{Entry: e, Href: subjectHref(f, e), Text: string(e.Data)})
	}
	return s.render(c, http.StatusOK, "log", v)
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
	}
	return ""
}

type cautionsView struct {
	frame
	Cautions []defects.Caution
}

func (s *Server) showCautions(c *gin.Context) error {
	f, err := s.onSite(c, "cautions")
	if err != nil {
		return err
	}
	return s.render(c, http.StatusOK, "cautions", cautionsView{frame: f, Cautions: reference.Cautions()})
}
