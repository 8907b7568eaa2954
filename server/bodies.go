package server

import (
	"errors"
	"io"
	"net/http"
	"os"
	"time"

	"github.com/gin-gonic/gin"
)

// bodyWait is how long a body may send nothing at all.
const bodyWait = 30 * time.Second

// bodyDeadline cuts bodies that stall. There is no limit on the whole: a photo
// over a weak signal may take many minutes as long as bytes keep coming. The
// size of a body is bounded elsewhere.
func (s *Server) bodyDeadline(c *gin.Context) {
	if c.Request.Body == nil || c.Request.Body == http.NoBody {
		return
	}
	wait := s.opt.BodyWait
	if wait <= 0 {
		wait = bodyWait
	}
	body := &steadyBody{from: c.Request.Body, control: http.NewResponseController(c.Writer), wait: wait, path: c.Request.URL.Path}
	c.Request.Body = body
	c.Next()
	if !body.ended {
		body.extend() // net/http reads what is left, and shall not wait for ever either
	}
}

// steadyBody gives every read a deadline of its own and takes it away at the
// end of the body, since the connection is then watched by a read that lasts as
// long as the handler.
type steadyBody struct {
	from    io.ReadCloser
	control *http.ResponseController
	wait    time.Duration
	path    string
	ended   bool
}

func (b *steadyBody) Read(p []byte) (int, error) {
	if !b.ended {
		b.extend()
	}
	n, err := b.from.Read(p)
	if err == nil {
		return n, nil
	}
	if errors.Is(err, os.ErrDeadlineExceeded) {
		return n, &slowBody{tooSlow(b.path), err}
	}
	b.ended = true
	_ = b.control.SetReadDeadline(time.Time{}) // not offered: see extend
	return n, err
}

func (b *steadyBody) Close() error { return b.from.Close() }

// extend does nothing where the connection has no deadlines, such as in a test
// without one.
func (b *steadyBody) extend() { _ = b.control.SetReadDeadline(time.Now().Add(b.wait)) }

// slowBody is a read that waited too long: a refusal to the client and a
// deadline to the libraries that read.
type slowBody struct {
	problem *Problem
	err     error
}

func (e *slowBody) Error() string { return e.problem.Detail }

func (e *slowBody) Unwrap() []error { return []error{e.problem, e.err} }

func tooSlow(path string) *Problem {
	return &Problem{
		Type: "about:blank", Title: http.StatusText(http.StatusRequestTimeout), Status: http.StatusRequestTimeout,
		Code: "too_slow", Instance: path, Detail: "nothing more of the request came for too long; send it again",
	}
}
