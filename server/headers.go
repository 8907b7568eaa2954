package server

import (
	"net/http"

	"github.com/gin-gonic/gin"
)

// policy allows what this site serves itself and nothing else: no inline script
// or style, no frame, no foreign host. blob: is for a preview of a photo that
// the browser holds and has not sent yet.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob:; " +
	"connect-src 'self'; font-src 'self'; manifest-src 'self'; worker-src 'self'; form-action 'self'; " +
	"base-uri 'none'; frame-ancestors 'none'"

// securityHeaders sets the headers every answer carries.
func securityHeaders(c *gin.Context) {
	h := c.Writer.Header()
	h.Set("Content-Security-Policy", policy)
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("Referrer-Policy", "same-origin")
	h.Set("Cross-Origin-Opener-Policy", "same-origin")
	h.Set("Cross-Origin-Resource-Policy", "same-origin")
	h.Set("Permissions-Policy", "camera=(self), geolocation=(self), microphone=(), payment=()")
	h.Set("Cache-Control", "no-store")
}

// sameOrigin refuses a browser's cross-site write. Programs that send a bearer
// token carry no cookie that another site could abuse, so they are let through.
func (s *Server) sameOrigin(c *gin.Context) {
	if bearer(c.Request) != "" {
		return
	}
	if err := s.origin.Check(c.Request); err != nil {
		s.fail(c, &Problem{
			Type: "about:blank", Title: http.StatusText(http.StatusForbidden),
			Status: http.StatusForbidden, Code: "cross_site", Instance: c.Request.URL.Path,
			Detail: "this write came from another site's page and was refused",
		})
	}
}
