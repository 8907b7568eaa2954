package server

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/defects/reference"
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
