package server

import (
	"mime"
	"net/http"
	"strconv"
	"time"

	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

// What a browser may do with a photo. Who may see it can change, so only the
// asker's own cache keeps it; an original is asked for each time.
const (
	cacheNamed    = "private, max-age=31536000, immutable" // the address names these very bytes
	cacheCopy     = "private, max-age=86400"
	cacheOriginal = "private, no-cache"
)

// captioned reads whether a preview is wanted with its caption.
func captioned(c *gin.Context, v register.Variant) (register.Variant, error) {
	switch c.Query("caption") {
	case "", "0", "false":
		return v, nil
	case "1", "true":
		if v == register.Preview {
			return register.Captioned, nil
		}
	}
	return v, defects.RefuseField(defects.Invalid, "caption", "bad_flag", "write caption=1, on the preview only")
}

// servePhoto answers a photo's bytes, with ranges and under a tag that other
// bytes never have.
func (s *Server) servePhoto(c *gin.Context, v register.Variant) error {
	v, err := captioned(c, v)
	if err != nil {
		return err
	}
	o, err := s.reg.OpenPhoto(c.Request.Context(), actorOf(c), c.Param("site"), c.Param("photo"), v)
	if err != nil {
		return err
	}
	defer o.Body.Close() //nolint:errcheck // read side
	h := c.Writer.Header()
	h.Set("Content-Type", o.Type)
	h.Set("ETag", strconv.Quote(o.Tag))
	changed := o.Photo.CopiesAt
	switch {
	case v == register.Original:
		changed = o.Photo.ReceivedAt
		h.Set("Cache-Control", cacheOriginal)
		h.Set("Content-Disposition", mime.FormatMediaType("attachment", map[string]string{"filename": originalName(o.Photo, o.Type)}))
	case v == register.Captioned:
		// Its words change without the photo's copies changing: the tag alone tells.
		changed = time.Time{}
		h.Set("Cache-Control", cacheOriginal)
	case c.Query("v") == strconv.FormatInt(o.Photo.CopiesSeq, 10):
		h.Set("Cache-Control", cacheNamed)
	default:
		h.Set("Cache-Control", cacheCopy)
	}
	http.ServeContent(c.Writer, c.Request, "", changed, o.Body)
	return nil
}

// originalName is what an original is saved as: its own name, else its id.
func originalName(p defects.Photo, kind string) string {
	if p.FileName != "" {
		return p.FileName
	}
	endings := map[string]string{"image/jpeg": ".jpg", "image/png": ".png", "image/webp": ".webp", "image/heic": ".heic"}
	return p.ID + endings[kind]
}
