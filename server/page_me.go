package server

import (
	"net/http"
	"time"

	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/web"
)

type meView struct {
	frame
	Sessions []keyLine
	Tokens   []keyLine
	Password *web.Form
	Token    *web.Form
	Secret   string // a token just made; shown this once
}

type keyLine struct {
	defects.Key
	Present bool // the one this page was asked for with
}

// me loads the page of the person himself.
func (s *Server) me(c *gin.Context) (meView, error) {
	v := meView{frame: s.plain(c), Password: web.NewForm("password"), Token: web.NewForm("token").Set("ttl", "90")}
	keys, err := s.reg.Keys(c.Request.Context(), actorOf(c))
	if err != nil {
		return v, err
	}
	for _, k := range keys {
		line := keyLine{Key: k, Present: k.ID == keyOf(c).ID}
		switch k.Kind {
		case defects.SessionKey:
			v.Sessions = append(v.Sessions, line)
		case defects.TokenKey:
			v.Tokens = append(v.Tokens, line)
		}
	}
	return v, nil
}

func (s *Server) showMe(c *gin.Context) error {
	v, err := s.me(c)
	if err != nil {
		return err
	}
	return s.render(c, http.StatusOK, "me", v)
}

func (s *Server) postPassword(c *gin.Context) error {
	form, err := readForm(c, "password")
	if err != nil {
		return err
	}
	try, err := s.signIns.begin("password of "+actorOf(c).AccountID, c.ClientIP())
	if err != nil {
		return err
	}
	err = s.reg.ChangePassword(c.Request.Context(), actorOf(c), form.Values.Get("old_password"), form.Values.Get("new_password"))
	try.end(c.Request.Context(), err)
	if err == nil {
		return seeOther(c, "/me?done=password")
	}
	r, ok := s.refused(c, form, err)
	if !ok {
		return err
	}
	v, err := s.me(c)
	if err != nil {
		return err
	}
	v.Password, v.Notice = form, r.notice
	return s.render(c, r.status, "me", v)
}

// postToken shows the token's secret in its answer, since it is kept nowhere.
func (s *Server) postToken(c *gin.Context) error {
	form, err := readForm(c, "token")
	if err != nil {
		return err
	}
	var secret string
	days, err := typedWhole(form, "ttl")
	if err == nil {
		secret, _, err = s.reg.CreateToken(c.Request.Context(), actorOf(c), typed(form, "label"), time.Duration(days)*24*time.Hour)
	}
	r, wrong := s.refused(c, form, err)
	if err != nil && !wrong {
		return err
	}
	v, err := s.me(c)
	if err != nil {
		return err
	}
	if wrong {
		v.Token, v.Notice = form, r.notice
		return s.render(c, r.status, "me", v)
	}
	v.Secret = secret
	return s.render(c, http.StatusCreated, "me", v)
}

func (s *Server) postKeyEnd(c *gin.Context) error {
	if err := s.reg.RevokeKey(c.Request.Context(), actorOf(c), c.Param("key")); err != nil {
		return err
	}
	return seeOther(c, "/me?done=ended")
}
