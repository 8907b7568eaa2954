package server

import (
	"github.com/gin-gonic/gin"

	"storeyrod/defects"
)

// access says who a route is for. It is the table the refusal tests walk; the
// register enforces the role, the server only that somebody is signed in.
type access struct {
	public     bool               // no sign-in needed
	admin      bool               // accounts that may make sites and accounts
	permission defects.Permission // role on the site of the path, when it has one
}

var (
	anyone   = access{public: true}
	signedIn = access{}
	admins   = access{admin: true}
)

func may(p defects.Permission) access { return access{permission: p} }

// route is one line of the URL table.
type route struct {
	method string
	path   string
	access access
	api    bool
}

// page adds a page's route: errors become an error page.
func (s *Server) page(method, path string, who access, h func(*gin.Context) error) {
	s.routes = append(s.routes, route{method: method, path: path, access: who})
	s.engine.Handle(method, path, s.guard(who, false), func(c *gin.Context) {
		err := s.mayOpen(c, who)
		if err == nil {
			err = h(c)
		}
		if err != nil {
			s.failPage(c, err)
		}
	})
}

// mayOpen refuses to show a form to a role that could not send it. What is sent
// the register judges itself.
func (s *Server) mayOpen(c *gin.Context, who access) error {
	if !safe(c.Request.Method) || who.permission == "" || who.permission == defects.ViewSite || c.Param("site") == "" {
		return nil
	}
	f, err := s.onSite(c, "")
	if err != nil || f.view.Role.May(who.permission) {
		return err
	}
	return defects.RefuseRole(f.Role, string(who.permission), defects.RoleNames(defects.WhoMay(who.permission)))
}

// raw adds a REST route that reads or writes bodies as a stream, outside the
// typed handlers; errors become problem documents.
func (s *Server) raw(method, path string, who access, h func(*gin.Context) error) {
	s.routes = append(s.routes, route{method: method, path: path, access: who, api: true})
	s.engine.Handle(method, path, s.guard(who, true), func(c *gin.Context) {
		if err := h(c); err != nil {
			s.failAPI(c, err)
		}
	})
}

// guard lets nobody past who is not signed in, unless the route is public.
func (s *Server) guard(who access, api bool) gin.HandlerFunc {
	return func(c *gin.Context) {
		if who.public || actorOf(c).AccountID != "" {
			return
		}
		if api {
			s.failAPI(c, errSignIn())
			return
		}
		s.toSignIn(c)
	}
}
