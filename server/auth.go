package server

import (
	"context"
	"errors"
	"net/http"
	"net/url"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

const (
	actorKey      = "storeyrod.actor"
	sessionKeyKey = "storeyrod.key"
)

// cookieName carries the __Host- prefix where the browser can enforce it.
func (s *Server) cookieName() string {
	if s.opt.Secure {
		return "__Host-storeyrod"
	}
	return "storeyrod"
}

// identify finds out who asks: a bearer token, else the session cookie, else
// nobody. A bad token is an error at once; a stale cookie is just nobody.
func (s *Server) identify(c *gin.Context) {
	if secret := bearer(c.Request); secret != "" {
		actor, key, err := s.reg.Authenticate(c.Request.Context(), secret, defects.TokenKey)
		if err != nil {
			s.fail(c, err)
			return
		}
		remember(c, actor, key)
		return
	}
	cookie, err := c.Cookie(s.cookieName())
	if err != nil || cookie == "" {
		return
	}
	actor, key, err := s.reg.Authenticate(c.Request.Context(), cookie, defects.SessionKey)
	switch {
	case err == nil:
		remember(c, actor, key)
	case errors.Is(err, defects.Unauthenticated):
		s.dropCookie(c)
	default:
		s.fail(c, err)
	}
}

// actorContext is the key under which a request's context holds who asks, for
// the typed handlers, which see no gin.Context.
type actorContext struct{}

func remember(c *gin.Context, actor register.Actor, key defects.Key) {
	if actor.Device == "" || c.Request.Header.Get("Storeyrod-Device") != "" {
		actor.Device = deviceOf(c.Request) // else the name given at sign-in holds
	}
	c.Set(actorKey, actor)
	c.Set(sessionKeyKey, key)
	c.Request = c.Request.WithContext(context.WithValue(c.Request.Context(), actorContext{}, actor))
}

// actorFrom is who asks, in a typed handler.
func actorFrom(ctx context.Context) register.Actor {
	a, _ := ctx.Value(actorContext{}).(register.Actor)
	return a
}

// actorOf is who asks; the zero Actor is nobody.
func actorOf(c *gin.Context) register.Actor {
	actor, _ := c.Get(actorKey)
	a, _ := actor.(register.Actor)
	return a
}

// keyOf is the session or token the request came with.
func keyOf(c *gin.Context) defects.Key {
	key, _ := c.Get(sessionKeyKey)
	k, _ := key.(defects.Key)
	return k
}

func bearer(r *http.Request) string {
	scheme, secret, ok := strings.Cut(r.Header.Get("Authorization"), " ")
	if !ok || !strings.EqualFold(scheme, "Bearer") {
		return ""
	}
	return strings.TrimSpace(secret)
}

// setCookie tells the browser how long to keep the cookie, not until when, so
// that a clock that is off on either side ends no session.
func (s *Server) setCookie(c *gin.Context, secret string) {
	http.SetCookie(c.Writer, &http.Cookie{
		Name: s.cookieName(), Value: secret, Path: "/", HttpOnly: true,
		Secure: s.opt.Secure, SameSite: http.SameSiteLaxMode, MaxAge: int(register.SessionMost.Seconds()),
	})
}

func (s *Server) dropCookie(c *gin.Context) {
	http.SetCookie(c.Writer, &http.Cookie{
		Name: s.cookieName(), Path: "/", HttpOnly: true,
		Secure: s.opt.Secure, SameSite: http.SameSiteLaxMode, Expires: time.Unix(1, 0), MaxAge: -1,
	})
}

// toSignIn sends a person to the sign-in page and back afterwards.
func (s *Server) toSignIn(c *gin.Context) {
	target := "/sign-in"
	if safe(c.Request.Method) && c.Request.URL.Path != "/" {
		target += "?next=" + url.QueryEscape(c.Request.URL.RequestURI())
	}
	c.Abort()
	c.Redirect(http.StatusSeeOther, target)
}

// localPath keeps a "next" address on this site. A browser drops tabs and line
// ends and reads a backslash as a slash, so that an address with any of them
// may be another one to it than to us.
func localPath(next string) string {
	odd := func(r rune) bool { return r < 0x20 || r == 0x7f || r == '\\' }
	u, err := url.Parse(next)
	if err != nil || u.Scheme != "" || u.Host != "" || u.User != nil || strings.ContainsFunc(next, odd) ||
		!strings.HasPrefix(next, "/") || strings.HasPrefix(next, "//") {
		return "/"
	}
	return next
}

// deviceOf names the device for the log: what a phone says of itself, else the
// browser's own words, cut short.
func deviceOf(r *http.Request) string {
	name := r.Header.Get("Storeyrod-Device")
	if name == "" {
		name = r.UserAgent()
	}
	if len(name) > 120 {
		name = name[:120]
	}
	return strings.ToValidUTF8(name, "")
}
