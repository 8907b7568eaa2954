package server

import (
	"net/http"
	"time"

	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/defects/reference"
	"storeyrod/defects/register"
	"storeyrod/web"
)

func (s *Server) addHomePages() {
	s.page(http.MethodGet, "/", signedIn, s.showHome)
	s.page(http.MethodPost, "/sites", admins, s.postSite)
	s.page(http.MethodGet, "/accounts", admins, s.showAccounts)
	s.page(http.MethodPost, "/accounts", admins, s.postAccount)
	s.page(http.MethodPost, "/accounts/:login/link", admins, s.postAccountLink)
	s.page(http.MethodPost, "/accounts/:login/disable", admins, s.postAccountDisable)
}

type homeView struct {
	frame
	Sites     []register.SiteView
	Form      *web.Form
	Rules     []web.Option
	Schedules []web.Option
}

func (s *Server) home(c *gin.Context) (homeView, error) {
	sites, err := s.reg.Sites(c.Request.Context(), actorOf(c))
	if err != nil {
		return homeView{}, err
	}
	f := s.plain(c)
	for _, site := range sites {
		f.Invented = f.Invented || site.Demo
	}
	form := web.NewForm("site").Set("time_zone", "Europe/London")
	return homeView{frame: f, Sites: sites, Form: form, Rules: ruleOptions(), Schedules: builtInOptions()}, nil
}

func (s *Server) showHome(c *gin.Context) error {
	v, err := s.home(c)
	if err != nil {
		return err
	}
	return s.render(c, http.StatusOK, "home", v)
}

func (s *Server) postSite(c *gin.Context) error {
	form, err := readForm(c, "site")
	if err != nil {
		return err
	}
	n := register.NewSite{Name: typed(form, "name"), TimeZone: typed(form, "time_zone"), Rule: defects.Rule(typed(form, "rule"))}
	switch ref := typed(form, "schedule"); {
	case ref == "" && actorOf(c).Admin: // who may make no site is told that first
		err = defects.RefuseField(defects.Invalid, "schedule", "schedule_missing", "choose one, or “none yet”")
	case ref != "" && ref != noSchedule:
		n.Schedules = []string{ref}
	}
	var site defects.Site
	if err == nil {
		site, err = s.reg.CreateSite(c.Request.Context(), actorOf(c), n)
	}
	if err == nil {
		return seeOther(c, sitePath(site.ID)+"?done=made")
	}
	r, ok := s.refused(c, form, err)
	if !ok {
		return err
	}
	v, err := s.home(c)
	if err != nil {
		return err
	}
	v.Form, v.Notice = form, r.notice
	return s.render(c, r.status, "home", v)
}

func ruleOptions() []web.Option {
	words := map[defects.Rule]string{
		defects.FourWay: "four-way: pass, conditional pass, conditional fail, fail",
		defects.Guarded: "guarded: the limit moved inwards by the uncertainty",
		defects.Simple:  "simple: the limit as it stands",
	}
	var out []web.Option
	for _, r := range []defects.Rule{defects.FourWay, defects.Guarded, defects.Simple} {
		out = append(out, web.Option{Value: string(r), Text: words[r]})
	}
	return out
}

// noSchedule is the choice to leave the limits open.
const noSchedule = "none"

// builtInOptions are the schedules a site may begin with, by their full titles.
func builtInOptions() []web.Option {
	out := []web.Option{{Text: "choose"}}
	for _, sc := range reference.Schedules() {
		title := sc.Title
		if sc.Edition != "" {
			title += ", " + sc.Edition
		}
		if sc.Basis == defects.Memory {
			title += " (from memory, unverified)"
		}
		out = append(out, web.Option{Value: defects.ScheduleRef(sc), Text: title})
	}
	return append(out, web.Option{Value: noSchedule, Text: "none yet: no reading gets a verdict until one is put in force"})
}

type accountsView struct {
	frame
	Accounts []defects.Account
	Form     *web.Form
	Secret   string // address of a one-time link just made; shown this once
	For      string
}

func (s *Server) accounts(c *gin.Context) (accountsView, error) {
	list, err := s.reg.Accounts(c.Request.Context(), actorOf(c))
	if err != nil {
		return accountsView{}, err
	}
	return accountsView{frame: s.plain(c, navLink{Title: "Sites", Href: "/"}), Accounts: list, Form: web.NewForm("account")}, nil
}

func (s *Server) showAccounts(c *gin.Context) error {
	v, err := s.accounts(c)
	if err != nil {
		return err
	}
	return s.render(c, http.StatusOK, "accounts", v)
}

func (s *Server) postAccount(c *gin.Context) error {
	form, err := readForm(c, "account")
	if err != nil {
		return err
	}
	n := register.NewAccount{Login: typed(form, "login"), Name: typed(form, "name"), Admin: form.Has("admin", "yes")}
	_, err = s.reg.CreateAccount(c.Request.Context(), actorOf(c), n)
	if err == nil {
		return seeOther(c, "/accounts?done=added")
	}
	r, ok := s.refused(c, form, err)
	if !ok {
		return err
	}
	v, err := s.accounts(c)
	if err != nil {
		return err
	}
	v.Form, v.Notice = form, r.notice
	return s.render(c, r.status, "accounts", v)
}

// linkLife is how long a link made on a page lives.
const linkLife = 48 * time.Hour

// postAccountLink shows the link in its answer, since it is kept nowhere.
func (s *Server) postAccountLink(c *gin.Context) error {
	secret, err := s.reg.CreateLink(c.Request.Context(), actorOf(c), c.Param("login"), linkLife)
	if err != nil {
		return err
	}
	v, err := s.accounts(c)
	if err != nil {
		return err
	}
	v.For, v.Secret = c.Param("login"), s.address(c.Request)+"/link?secret="+secret
	return s.render(c, http.StatusCreated, "accounts", v)
}

// address is how this server was reached, for a link that is passed on.
func (s *Server) address(r *http.Request) string {
	if s.opt.Secure || r.TLS != nil {
		return "https://" + r.Host
	}
	return "http://" + r.Host
}

func (s *Server) postAccountDisable(c *gin.Context) error {
	form, err := readForm(c, "")
	if err != nil {
		return err
	}
	err = s.reg.SetDisabled(c.Request.Context(), actorOf(c), c.Param("login"), form.Has("disabled", "yes"))
	if err != nil {
		return err
	}
	return seeOther(c, "/accounts?done=saved")
}
