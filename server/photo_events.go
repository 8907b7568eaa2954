package server

import (
	"encoding/json"
	"fmt"
	"net/http"
	"strconv"
	"sync"
	"time"

	"github.com/gin-gonic/gin"

	"storeyrod/defects"
)

// Limits of streams. One ends by itself after a while, so that who may not see
// the site any more does not stay; a browser opens it again.
const (
	mostStreams   = 200
	mostStreamsOf = 8 // of one account
	streamLife    = 10 * time.Minute
	streamLook    = time.Second      // for changes by other processes
	streamQuiet   = 15 * time.Second // after which a comment shows that it is alive
	streamStall   = 10 * time.Second // for a client that reads nothing
)

// streams counts the open streams and ends them with the server.
type streams struct {
	mu    sync.Mutex
	all   int
	of    map[string]int
	ended chan struct{}
	end   func()
}

func newStreams() *streams {
	s := &streams{of: map[string]int{}, ended: make(chan struct{})}
	s.end = sync.OnceFunc(func() { close(s.ended) })
	return s
}

// open counts one stream of an account; the answer takes it back.
func (s *streams) open(account string) (closed func(), err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.all >= mostStreams || s.of[account] >= mostStreamsOf {
		return nil, defects.Refuse(defects.TooMany, "too_many_streams", "too many open streams; close one, or look again from time to time")
	}
	s.all++
	s.of[account]++
	return func() {
		s.mu.Lock()
		defer s.mu.Unlock()
		s.all--
		if s.of[account]--; s.of[account] == 0 {
			delete(s.of, account)
		}
	}, nil
}

// PhotoEvent is the data of one event.
type PhotoEvent struct {
	Photo  string `json:"photo"`
	Seq    int64  `json:"view_copies_seq"`
	Reason string `json:"reason,omitempty"`
}

// photoStream is one open stream.
type photoStream struct {
	s       *Server
	c       *gin.Context
	control *http.ResponseController
	last    int64
}

// streamPhotos tells how the view copies of a site's photos go on.
func (s *Server) streamPhotos(c *gin.Context) error {
	ctx, actor, site := c.Request.Context(), actorOf(c), c.Param("site")
	last, err := s.reg.LastPhotoChange(ctx, actor, site)
	if err != nil {
		return err
	}
	if last, err = streamStart(c, last); err != nil {
		return err
	}
	closed, err := s.streams.open(actor.AccountID)
	if err != nil {
		return err
	}
	defer closed()
	h := c.Writer.Header()
	h.Set("Content-Type", "text/event-stream")
	h.Set("X-Accel-Buffering", "no") // a proxy must not hold it back
	c.Writer.WriteHeader(http.StatusOK)
	if c.Request.Method == http.MethodHead {
		return nil
	}
	(&photoStream{s: s, c: c, control: http.NewResponseController(c.Writer), last: last}).run()
	return nil
}

// streamStart is the number that a stream goes on from.
func streamStart(c *gin.Context, now int64) (int64, error) {
	text := c.GetHeader("Last-Event-ID")
	if text == "" {
		text = c.Query("after")
	}
	if text == "" {
		return now, nil
	}
	n, err := strconv.ParseInt(text, 10, 64)
	if err != nil || n < 0 {
		return 0, defects.RefuseField(defects.Invalid, "after", "bad_number", "write a whole number")
	}
	return n, nil
}

// run writes events until the client, the server or the stream's time is at an
// end. What is refused on the way ends it: the next request tells why.
func (p *photoStream) run() {
	over, look, quiet := time.NewTimer(streamLife), time.NewTicker(streamLook), time.NewTicker(streamQuiet)
	defer over.Stop()
	defer look.Stop()
	defer quiet.Stop()
	if !p.write("retry: 2000\n\n") {
		return
	}
	for {
		changed := p.s.reg.CopiesChanged()
		if !p.news() {
			return
		}
		select {
		case <-p.c.Request.Context().Done():
			return
		case <-p.s.streams.ended:
			return
		case <-over.C:
			return
		case <-changed:
		case <-look.C:
		case <-quiet.C:
			if !p.write(": still here\n\n") {
				return
			}
		}
	}
}

// news writes what has changed and reports whether the stream goes on.
func (p *photoStream) news() bool {
	for more := true; more; {
		photos, last, further, err := p.s.reg.PhotoChanges(p.c.Request.Context(), actorOf(p.c), p.c.Param("site"), p.last)
		if err != nil {
			return false
		}
		for _, photo := range photos {
			if !p.tell(photo) {
				return false
			}
		}
		p.last, more = last, further
	}
	return true
}

func (p *photoStream) tell(photo defects.Photo) bool {
	kind, reason := "taken", photo.CopiesReason()
	switch {
	case reason != "":
		kind = "failed"
	case photo.Derived != "":
		kind = "ready"
	}
	data, err := json.Marshal(PhotoEvent{Photo: photo.ID, Seq: photo.CopiesSeq, Reason: reason})
	return err == nil && p.write(fmt.Sprintf("id: %d\nevent: %s\ndata: %s\n\n", photo.CopiesSeq, kind, data))
}

func (p *photoStream) write(text string) bool {
	_ = p.control.SetWriteDeadline(time.Now().Add(streamStall)) // not offered in a test without a connection
	_, err := p.c.Writer.WriteString(text)
	return err == nil && p.control.Flush() == nil
}
