package server

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"io"
	"net/http"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

const (
	keyHeader = "Idempotency-Key"
	// storeWithin bounds storing an answer after its asker went away.
	storeWithin = 10 * time.Second
)

// idempotent answers a repeated write with an Idempotency-Key by what the first
// one was answered, so that a phone may send again after a lost answer; the key
// is claimed in the database before the request runs, so that this holds across
// servers. What it cannot promise is said at register.Claim. Photos need no key:
// the same bytes are the same photo.
func (s *Server) idempotent(c *gin.Context) {
	key := c.GetHeader(keyHeader)
	if key == "" || safe(c.Request.Method) || !takesKey(c.FullPath()) {
		return
	}
	if strings.HasSuffix(c.FullPath(), "/me/tokens") {
		s.failAPI(c, defects.RefuseField(defects.Invalid, keyHeader, "key_not_taken",
			"a token is shown once and kept nowhere, so its answer cannot be repeated; leave the header out"))
		return
	}
	body, err := io.ReadAll(c.Request.Body)
	if err != nil {
		s.failAPI(c, err)
		return
	}
	c.Request.Body = io.NopCloser(bytes.NewReader(body))
	claim, err := s.reg.Claim(c.Request.Context(), actorOf(c), key, fingerprint(c.Request, body))
	if err != nil {
		if e, ok := asRefusal(err); ok && e.Code == "idempotency_in_progress" {
			c.Header("Retry-After", "2")
		}
		s.failAPI(c, err)
		return
	}
	if claim.Status != 0 {
		replay(c, claim)
		return
	}
	s.runClaimed(c, claim)
}

// runClaimed runs the request and stores its answer, or gives the key back when
// the answer is one to correct or to try again after. A panic gives it back too.
func (s *Server) runClaimed(c *gin.Context, claim register.Reply) {
	kept := &keeper{ResponseWriter: c.Writer}
	c.Writer = kept
	finished := false
	defer func() {
		ctx, cancel := context.WithTimeout(context.WithoutCancel(c.Request.Context()), storeWithin)
		defer cancel()
		var err error
		if !finished || mayRepeat(kept.Status()) {
			err = s.reg.Release(ctx, claim)
		} else {
			claim.Status, claim.ContentType, claim.Body = kept.Status(), kept.Header().Get("Content-Type"), kept.body.Bytes()
			claim.Location, claim.ETag = kept.Header().Get("Location"), kept.Header().Get("ETag")
			err = s.reg.Answer(ctx, claim)
		}
		if err != nil {
			s.log.ErrorContext(ctx, "answer not remembered", "err", err)
		}
	}()
	c.Next()
	finished = true
}

// safe reports whether a method asks only.
func safe(method string) bool { return method == http.MethodGet || method == http.MethodHead }

// takesKey reports whether a route looks at the header. An upload is made
// repeatable by its offset.
func takesKey(path string) bool { return !strings.HasSuffix(path, "/photos") && !isUpload(path) }

// mayRepeat reports whether the same key may be used again after an answer:
// nothing was written then, and another try can go otherwise.
func mayRepeat(status int) bool {
	switch status {
	case http.StatusBadRequest, http.StatusRequestTimeout, http.StatusPreconditionFailed, http.StatusUnprocessableEntity,
		http.StatusPreconditionRequired, http.StatusTooManyRequests:
		return true
	}
	return status >= http.StatusInternalServerError
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
