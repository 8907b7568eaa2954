package server

import (
	"bytes"
	"errors"
	"net/http"
	"net/url"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

// addPages adds every page to the URL table.
func (s *Server) addPages() {
	s.page(http.MethodGet, "/static/:print/:name", anyone, s.staticFile)
	s.addAccountPages()
	s.addHomePages()
	s.addWallPages()
	s.addSettingPages()
	s.addGeometryPages()
	s.addStoragePages()
	s.addSnagPages()
	s.addPhotoPages()
	s.addPlanPages()
	s.addReadingPages()
	s.addFixingPages()
	s.addSurveyPages()
	s.addWeatherPages()
	s.addStatementPage()
	s.addRulePages()
	s.addRecordPages()
}

// staticFile serves an embedded file. Its address holds a hash of its content,
// so it never changes.
func (s *Server) staticFile(c *gin.Context) error {
	asset, ok := s.pages.Assets().Find(c.Request.URL.Path)
	if !ok {
		return defects.Refuse(defects.NotFound, "no_such_address", "there is nothing at this address")
	}
	h := c.Writer.Header()
	h.Set("Cache-Control", "public, max-age=31536000, immutable")
	h.Set("Content-Type", asset.Type)
	h.Set("ETag", asset.ETag)
	http.ServeContent(c.Writer, c.Request, "", time.Time{}, bytes.NewReader(asset.Content))
	return nil
}

// render sends one page; a failing template sends none of it.
func (s *Server) render(c *gin.Context, status int, name string, view any) error {
	var page bytes.Buffer
	if err := s.pages.Render(&page, name, view); err != nil {
		return err
	}
	c.Data(status, "text/html; charset=utf-8", page.Bytes())
	return nil
}

// problemView is the page of a refusal or a fault.
type problemView struct {
	frame
	Problem *Problem
	Field   string
	Back    string
	Heading string
}

// plainHeading says what happened without the words of the protocol.
func plainHeading(status int) string {
	switch status {
	case http.StatusUnauthorized:
		return "Please sign in"
	case http.StatusForbidden:
		return "This is not yours to do"
	case http.StatusNotFound:
		return "There is nothing here"
	case http.StatusConflict, http.StatusPreconditionFailed, http.StatusPreconditionRequired:
		return "This cannot be done as things stand"
	case http.StatusRequestEntityTooLarge:
		return "That is too large"
	case http.StatusTooManyRequests:
		return "Too many tries; wait a little"
	case http.StatusMethodNotAllowed:
		return "This page does not take that"
	}
	if status >= http.StatusInternalServerError {
		return "Something went wrong on our side"
	}
	return "This was not taken"
}

// failPage answers with an error page in plain words and stops the chain.
func (s *Server) failPage(c *gin.Context, err error) {
	c.Abort()
	if c.Writer.Written() {
		return
	}
	p := s.problem(c.Request.Context(), c.Request.URL.Path, err)
	if p.Status == http.StatusUnauthorized && actorOf(c).AccountID == "" && p.Code == "sign_in_needed" {
		s.toSignIn(c)
		return
	}
	f := s.frameOfFault(c)
	view := problemView{frame: f, Problem: plainProblem(p, f.zone), Back: backFrom(c.Request), Field: formLabel("", "", p.Field), Heading: plainHeading(p.Status)}
	var page bytes.Buffer
	if err := s.pages.Render(&page, "problem", view); err != nil {
		s.log.ErrorContext(c.Request.Context(), "error page failed", "err", err)
		c.String(p.Status, "%s\n", p.Title)
		return
	}
	c.Data(p.Status, "text/html; charset=utf-8", page.Bytes())
}

// frameOfFault is the frame of an error page: with the site around it when the
// address names one that the person may see.
func (s *Server) frameOfFault(c *gin.Context) frame {
	if c.Param("site") != "" && actorOf(c).AccountID != "" {
		if f, err := s.onSite(c, ""); err == nil {
			return f
		}
	}
	return s.plain(c)
}

// backFrom is where a person came from, when that was a page of ours.
func backFrom(r *http.Request) string {
	u, err := url.Parse(r.Referer())
	if err != nil || u.Host != r.Host || u.Path == r.URL.Path {
		return "/"
	}
	return localPath(u.RequestURI())
}

// seeOther answers a write: the browser goes on to a page it may load again.
func seeOther(c *gin.Context, path string) error {
	c.Redirect(http.StatusSeeOther, path)
	return nil
}

// asRefusal finds what a person can be told in err.
func asRefusal(err error) (*defects.Error, bool) {
	var e *defects.Error
	ok := errors.As(err, &e)
	return e, ok
}

// sitePath builds an address within a site from parts, each escaped.
func sitePath(siteID string, parts ...string) string {
	var b strings.Builder
	b.WriteString("/sites/" + url.PathEscape(siteID))
	for _, p := range parts {
		b.WriteString("/" + url.PathEscape(p))
	}
	return b.String()
}

// zoneOf is a site's time zone; an unknown name can only mean a machine without
// that zone's data, and then times are told in UTC.
func zoneOf(site defects.Site) *time.Location {
	zone, err := time.LoadLocation(site.TimeZone)
	if err != nil {
		return time.UTC
	}
	return zone
}

// largePage is the page that lists for choosing from take.
func largePage() register.Page { return register.Page{Limit: 200} }
