package server

import (
	"context"
	"errors"
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"

	"storeyrod/defects"
)

// statusOf is the only place where a kind of refusal becomes an HTTP status.
var statusOf = map[defects.Kind]int{
	defects.Invalid:         http.StatusUnprocessableEntity,
	defects.NotFound:        http.StatusNotFound,
	defects.Unauthenticated: http.StatusUnauthorized,
	defects.Forbidden:       http.StatusForbidden,
	defects.Conflict:        http.StatusConflict,
	defects.Stale:           http.StatusPreconditionFailed,
	defects.VersionNeeded:   http.StatusPreconditionRequired,
	defects.TooLarge:        http.StatusRequestEntityTooLarge,
	defects.UnsupportedType: http.StatusUnsupportedMediaType,
	defects.Question:        http.StatusUnprocessableEntity,
	defects.TooMany:         http.StatusTooManyRequests,
	defects.Unavailable:     http.StatusServiceUnavailable,
	defects.Locked:          http.StatusLocked,
	defects.Gone:            http.StatusGone,
	defects.Mismatch:        statusMismatch,
}

// statusMismatch is of the tus protocol's checksum extension.
const statusMismatch = 460

// statusTitle names a status in words.
func statusTitle(status int) string {
	if status == statusMismatch {
		return "Checksum Mismatch"
	}
	return http.StatusText(status)
}

// Problem is an RFC 9457 problem document. Code is stable; Field names the
// input at fault; Errors lists the parts of a refusal that has several.
type Problem struct {
	Type     string         `json:"type" doc:"about:blank, since the code says which problem it is"`
	Title    string         `json:"title"`
	Status   int            `json:"status"`
	Detail   string         `json:"detail"`
	Instance string         `json:"instance,omitempty" doc:"path of the request"`
	Code     string         `json:"code" doc:"stable word for programs"`
	Field    string         `json:"field,omitempty"`
	Errors   []ProblemError `json:"errors,omitempty"`
}

// ProblemError is one part of a refusal.
type ProblemError struct {
	Field string `json:"field,omitempty"`
	Code  string `json:"code,omitempty"`
	Text  string `json:"text"`
}

// Error makes a Problem an error that the typed handlers can return.
func (p *Problem) Error() string { return p.Detail }

// GetStatus gives the HTTP status to the typed handlers' library.
func (p *Problem) GetStatus() int { return p.Status }

// ContentType names the media type of RFC 9457.
func (p *Problem) ContentType(string) string { return problemType }

const problemType = "application/problem+json"

// problem turns any error into a document. What is not a *defects.Error is a
// fault of ours: its text goes to the log, never to the client.
func (s *Server) problem(ctx context.Context, path string, err error) *Problem {
	var p *Problem
	if errors.As(err, &p) {
		return p
	}
	var e *defects.Error
	if errors.As(err, &e) {
		return problemOf(e, path)
	}
	var tooLarge *http.MaxBytesError
	if errors.As(err, &tooLarge) {
		return problemOf(defects.Refuse(defects.TooLarge, "body_too_large", "the request is larger than is taken"), path)
	}
	if errors.Is(err, context.Canceled) && ctx.Err() != nil {
		return problemOf(defects.Refuse(defects.Unavailable, "cancelled", "the request was given up"), path)
	}
	s.log.ErrorContext(ctx, "request failed", "path", path, "err", err)
	return &Problem{
		Type: "about:blank", Title: http.StatusText(http.StatusInternalServerError),
		Status: http.StatusInternalServerError, Code: "internal", Instance: path,
		Detail: "something went wrong on our side; it has been logged",
	}
}

func problemOf(e *defects.Error, path string) *Problem {
	status, known := statusOf[e.Kind]
	if !known {
		status = http.StatusInternalServerError
	}
	p := &Problem{
		Type: "about:blank", Title: statusTitle(status), Status: status,
		Detail: e.Error(), Code: e.CodeOrKind(), Field: e.Field, Instance: path,
	}
	for _, d := range e.Details {
		p.Errors = append(p.Errors, ProblemError(d))
	}
	return p
}

// versionNamed names the header at fault where a version was stale or missing.
func versionNamed(err error) error {
	var e *defects.Error
	if !errors.As(err, &e) {
		return err
	}
	if e.Kind == defects.VersionNeeded || e.Kind == defects.Stale && e.Field == "" {
		with := *e
		with.Field = "If-Match"
		return &with
	}
	return err
}

func errSignIn() error {
	return defects.Refuse(defects.Unauthenticated, "sign_in_needed", "sign in, or send a bearer token")
}

// failAPI answers with a problem document and stops the chain.
func (s *Server) failAPI(c *gin.Context, err error) {
	p := s.problem(c.Request.Context(), c.Request.URL.Path, versionNamed(err))
	if p.Status == http.StatusUnauthorized {
		c.Header("WWW-Authenticate", `Bearer realm="storeyrod"`)
	}
	c.Abort()
	c.Header("Content-Type", problemType)
	c.JSON(p.Status, p)
}

func (s *Server) noRoute(c *gin.Context) {
	path := c.Request.URL.Path
	if trimmed := strings.TrimRight(path, "/"); safe(c.Request.Method) && trimmed != path && !strings.HasPrefix(path, "/api/") {
		c.Redirect(http.StatusMovedPermanently, localPath(trimmed)) // a page, typed with a slash too many
		return
	}
	s.fail(c, defects.Refuse(defects.NotFound, "no_such_address", "there is nothing at this address"))
}

func (s *Server) noMethod(c *gin.Context) {
	s.fail(c, &Problem{
		Type: "about:blank", Title: http.StatusText(http.StatusMethodNotAllowed),
		Status: http.StatusMethodNotAllowed, Code: "method_not_allowed", Instance: c.Request.URL.Path,
		Detail: "this address does not take " + c.Request.Method,
	})
}

// fail answers in the form the address speaks.
func (s *Server) fail(c *gin.Context, err error) {
	if strings.HasPrefix(c.Request.URL.Path, "/api/") {
		s.failAPI(c, err)
		return
	}
	s.failPage(c, err)
}
