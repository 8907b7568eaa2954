package server

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"io"
	"net/http"
	"strings"
	"sync"

	"github.com/gin-gonic/gin"

	"storeyrod/defects/register"
)

// replies keeps requests with the same key apart while the first one runs.
type replies struct {
	mu   sync.Mutex
	busy map[string]*sync.Mutex
}

// idempotent answers a repeated write with an Idempotency-Key by what the first
// one was answered, so that a phone may send again after a lost answer. Photos
// need no key: the same bytes are the same photo.
func (s *Server) idempotent(c *gin.Context) {
	key := c.GetHeader("Idempotency-Key")
	if key == "" || c.Request.Method == http.MethodGet || strings.HasSuffix(c.FullPath(), "/photos") {
		return
	}
	body, err := io.ReadAll(c.Request.Body)
	if err != nil {
		s.failAPI(c, err)
		return
	}
	c.Request.Body = io.NopCloser(bytes.NewReader(body))
	actor := actorOf(c)
	release := s.replies.hold(actor.AccountID + "\x00" + key)
	defer release()
	print := fingerprint(c.Request, body)
	known, err := s.reg.Recall(c.Request.Context(), actor, key, print)
	if err != nil {
		s.failAPI(c, err)
		return
	}
	if known != nil {
		replay(c, *known)
		return
	}
	kept := &keeper{ResponseWriter: c.Writer}
	c.Writer = kept
	c.Next()
	if kept.Status() >= http.StatusInternalServerError {
		return // may be tried again
	}
	err = s.reg.Remember(c.Request.Context(), register.Reply{
		AccountID: actor.AccountID, Key: key, Fingerprint: print,
		Status: kept.Status(), ContentType: kept.Header().Get("Content-Type"), Location: kept.Header().Get("Location"),
		ETag: kept.Header().Get("ETag"), Body: kept.body.Bytes(),
	})
	if err != nil {
		s.log.ErrorContext(c.Request.Context(), "answer not remembered", "err", err)
	}
}

// hold waits for the turn of a key and answers how to let go of it.
func (r *replies) hold(key string) (release func()) {
	r.mu.Lock()
	if r.busy == nil {
		r.busy = map[string]*sync.Mutex{}
	}
	turn, known := r.busy[key]
	if !known {
		turn = &sync.Mutex{}
		r.busy[key] = turn
	}
	r.mu.Unlock()
	turn.Lock()
	return func() {
		r.mu.Lock()
		delete(r.busy, key)
		r.mu.Unlock()
		turn.Unlock()
	}
}

func fingerprint(r *http.Request, body []byte) string {
	h := sha256.New()
	_, _ = io.WriteString(h, r.Method+" "+r.URL.RequestURI()+"\n"+r.Header.Get("If-Match")+"\n")
	_, _ = h.Write(body)
	return hex.EncodeToString(h.Sum(nil))
}

func replay(c *gin.Context, known register.Reply) {
	c.Abort()
	for name, value := range map[string]string{"Location": known.Location, "ETag": known.ETag} {
		if value != "" {
			c.Header(name, value)
		}
	}
	c.Header("Idempotency-Replayed", "true")
	c.Data(known.Status, known.ContentType, known.Body)
}

// keeper copies what is answered.
type keeper struct {
	gin.ResponseWriter
	body bytes.Buffer
}

func (k *keeper) Write(p []byte) (int, error) {
	k.body.Write(p)
	return k.ResponseWriter.Write(p)
}

func (k *keeper) WriteString(s string) (int, error) {
	k.body.WriteString(s)
	return k.ResponseWriter.WriteString(s)
}
