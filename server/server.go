package server

import (
	"context"
	"log/slog"
	"net/http"
	"time"

	"github.com/gin-gonic/gin"

	"storeyrod/defects/register"
	"storeyrod/web"
)

// Options is what a Server is made of.
type Options struct {
	Register *register.Register
	Logger   *slog.Logger
	Version  string
	// Ready answers nil when the store can be reached; /readyz asks it.
	Ready func(context.Context) error
	// Secure marks cookies for HTTPS only. Off for plain HTTP on one machine.
	Secure bool
	// MaxPhoto is the largest photo body in bytes.
	MaxPhoto int64
	// BodyWait is how long a request's body may send nothing; 0 means 30 s.
	BodyWait time.Duration
	// Invented says that all data of this instance is made up, as a
	// demonstration's is; every page then says so.
	Invented bool
	// Tiles is the map laid under the plan of photos; nil lays none.
	Tiles *Tiles
	// TrustedProxies may set X-Forwarded-For; empty means none may.
	TrustedProxies []string
}

// Limits of a request that is not a photo.
const (
	maxFormBytes  = 1 << 20
	maxTableBytes = 16 << 20
	readHeader    = 10 * time.Second
	idleTimeout   = 2 * time.Minute
)

// Server answers HTTP over one register.
type Server struct {
	opt     Options
	reg     *register.Register
	log     *slog.Logger
	engine  *gin.Engine
	pages   *web.Pages
	metrics *metrics
	signIns *attempts
	origin  *http.CrossOriginProtection
	streams *streams
	routes  []route
}

// New builds the server and its whole routing table; a template or route
// mistake is an error here, not at the first request.
func New(opt Options) (*Server, error) {
	pages, err := web.New()
	if err != nil {
		return nil, err
	}
	gin.SetMode(gin.ReleaseMode)
	s := &Server{
		opt: opt, reg: opt.Register, log: opt.Logger, engine: gin.New(), pages: pages,
		metrics: newMetrics(), signIns: newAttempts(opt.Register.Clock),
		origin: http.NewCrossOriginProtection(), streams: newStreams(),
	}
	if err := s.engine.SetTrustedProxies(opt.TrustedProxies); err != nil {
		return nil, err
	}
	s.engine.HandleMethodNotAllowed, s.engine.RedirectTrailingSlash = true, false
	s.engine.Use(restoreHead, s.observe, s.recoverPanic, securityHeaders, s.bodyDeadline, s.sameOrigin, s.identify)
	s.addOperations()
	s.addAPI()
	s.addPages()
	s.engine.NoRoute(s.noRoute)
	s.engine.NoMethod(s.noMethod)
	return s, nil
}

// Handler is the whole site as one handler. What may be asked for with GET may
// be with HEAD: it takes the same way, and net/http leaves the body out.
func (s *Server) Handler() http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.Method == http.MethodHead {
			r = r.WithContext(context.WithValue(r.Context(), headContext{}, true))
			r.Method = http.MethodGet
		}
		overrideMethod(r)
		s.engine.ServeHTTP(w, r)
	})
}

// headContext marks a HEAD request that is routed as a GET.
type headContext struct{}

// restoreHead gives such a request its method back once its route is found.
func restoreHead(c *gin.Context) {
	if c.Request.Context().Value(headContext{}) != nil {
		c.Request.Method = http.MethodHead
	}
}

// HTTPServer wraps the handler with the time limits that a server open to a
// site's network needs. Bodies have no overall read limit, since a photo over a
// weak signal may take minutes; stalled ones are cut by bodyDeadline.
func (s *Server) HTTPServer(addr string) *http.Server {
	srv := &http.Server{
		Addr:              addr,
		Handler:           s.Handler(),
		ReadHeaderTimeout: readHeader,
		IdleTimeout:       idleTimeout,
		MaxHeaderBytes:    64 << 10,
		ErrorLog:          slog.NewLogLogger(s.log.Handler(), slog.LevelWarn),
	}
	srv.RegisterOnShutdown(s.streams.end)
	return srv
}
