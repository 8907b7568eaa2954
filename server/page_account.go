package server

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"storeyrod/defects/register"
	"storeyrod/web"
)

func (s *Server) addAccountPages() {
	s.page(http.MethodGet, "/sign-in", anyone, s.showSignIn)
	s.page(http.MethodPost, "/sign-in", anyone, s.postSignIn)
	s.page(http.MethodPost, "/sign-out", anyone, s.postSignOut)
	s.page(http.MethodGet, "/set-up", anyone, s.showSetUp)
	s.page(http.MethodPost, "/set-up", anyone, s.postSetUp)
	s.page(http.MethodGet, "/link", anyone, s.showLink)
	s.page(http.MethodPost, "/link", anyone, s.postLink)
	s.page(http.MethodGet, "/me", signedIn, s.showMe)
	s.page(http.MethodPost, "/me/password", signedIn, s.postPassword)
	s.page(http.MethodPost, "/me/tokens", signedIn, s.postToken)
	s.page(http.MethodPost, "/me/keys/:key/end", signedIn, s.postKeyEnd)
}

// formView is a page that is one form.
type formView struct {
	frame
	Form *web.Form
}

// again shows a form that was not taken.
func (s *Server) again(c *gin.Context, page string, f frame, form *web.Form, err error) error {
	r, ok := s.refused(c, form, err)
	if !ok {
		return err
	}
	f.Notice = r.notice
	return s.render(c, r.status, page, formView{frame: f, Form: form})
}

func (s *Server) showSignIn(c *gin.Context) error {
	needed, err := s.reg.SetupNeeded(c.Request.Context())
	if err != nil {
		return err
	}
	f := s.plain(c)
	if needed {
		f.Notice = &notice{Class: "ask", Text: "Nobody has an account yet. Open the set-up link that the server printed when it started."}
	}
	return s.render(c, http.StatusOK, "sign_in", formView{frame: f, Form: queryForm(c, "f")})
}

// postSignIn counts attempts by login and address. The answer to a wrong
// login and a wrong password is the same.
func (s *Server) postSignIn(c *gin.Context) error {
	form, err := readForm(c, "f")
	if err != nil {
		return err
	}
	login := typed(form, "login")
	try, err := s.beginLogin(c, login)
	if err != nil {
		return err
	}
	session, _, err := s.reg.SignIn(c.Request.Context(), login, form.Values.Get("password"), deviceName(c, form))
	try.end(c.Request.Context(), err)
	if err != nil {
		e, ok := asRefusal(err)
		if !ok {
			return err
		}
		f := s.plain(c)
		f.Notice = &notice{Class: "bad", Text: sentence(e.Text) + "."}
		return s.render(c, statusOf[e.Kind], "sign_in", formView{frame: f, Form: form})
	}
	s.setCookie(c, session)
	return seeOther(c, localPath(form.Values.Get("next")))
}

// deviceName is what the person calls the device, else what it says of itself.
func deviceName(c *gin.Context, form *web.Form) string {
	if name := typed(form, "device"); name != "" {
		return name
	}
	return deviceOf(c.Request)
}

func (s *Server) postSignOut(c *gin.Context) error {
	if a := actorOf(c); a.KeyID != "" {
		if err := s.reg.SignOut(c.Request.Context(), a.KeyID, a); err != nil {
			return err
		}
	}
	s.dropCookie(c)
	return seeOther(c, "/sign-in")
}

func (s *Server) showSetUp(c *gin.Context) error {
	return s.render(c, http.StatusOK, "set_up", formView{frame: s.plain(c), Form: queryForm(c, "f")})
}

func (s *Server) postSetUp(c *gin.Context) error {
	form, err := readForm(c, "f")
	if err != nil {
		return err
	}
	who := register.NewAccount{Login: typed(form, "login"), Name: typed(form, "name"), Password: form.Values.Get("password")}
	session, _, err := s.reg.CompleteSetup(c.Request.Context(), form.Values.Get("link"), who, deviceName(c, form))
	if err != nil {
		return s.again(c, "set_up", s.plain(c), form, err)
	}
	s.setCookie(c, session)
	return seeOther(c, "/")
}

func (s *Server) showLink(c *gin.Context) error {
	return s.render(c, http.StatusOK, "link", formView{frame: s.plain(c), Form: queryForm(c, "f")})
}

// postLink uses a one-time link. Opening it alone does not, so that a preview
// of the message it came in cannot spend it.
func (s *Server) postLink(c *gin.Context) error {
	form, err := readForm(c, "f")
	if err != nil {
		return err
	}
	try, err := s.signIns.begin("link", c.ClientIP())
	if err != nil {
		return err
	}
	session, _, err := s.reg.UseLink(c.Request.Context(), form.Values.Get("secret"), form.Values.Get("password"), deviceName(c, form))
	try.end(c.Request.Context(), err)
	if err != nil {
		return s.again(c, "link", s.plain(c), form, err)
	}
	s.setCookie(c, session)
	return seeOther(c, "/")
}
