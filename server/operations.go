package server

import (
	"fmt"
	"net/http"
	"net/netip"
	"runtime/debug"
	"time"

	"github.com/gin-gonic/gin"
	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"

	"storeyrod/defects"
)

// metrics is the server's own set of counters, kept out of any global registry.
type metrics struct {
	registry *prometheus.Registry
	requests *prometheus.CounterVec
	seconds  *prometheus.HistogramVec
}

func newMetrics() *metrics {
	m := &metrics{
		registry: prometheus.NewRegistry(),
		requests: prometheus.NewCounterVec(prometheus.CounterOpts{
			Name: "storeyrod_http_requests_total",
			Help: "Requests answered, by method, route and status.",
		}, []string{"method", "route", "status"}),
		seconds: prometheus.NewHistogramVec(prometheus.HistogramOpts{
			Name: "storeyrod_http_request_seconds",
			Help: "Time to answer, by method and route.", Buckets: prometheus.DefBuckets,
		}, []string{"method", "route"}),
	}
	m.registry.MustRegister(m.requests, m.seconds, collectors.NewGoCollector(),
		collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	return m
}

// addOperations adds the addresses for whoever runs the server.
func (s *Server) addOperations() {
	s.raw(http.MethodGet, "/healthz", anyone, func(c *gin.Context) error {
		c.String(http.StatusOK, "ok\n")
		return nil
	})
	s.raw(http.MethodGet, "/readyz", anyone, func(c *gin.Context) error {
		if err := s.opt.Ready(c.Request.Context()); err != nil {
			s.log.WarnContext(c.Request.Context(), "not ready", "err", err)
			return defects.Refuse(defects.Unavailable, "not_ready", "the store cannot be reached")
		}
		c.String(http.StatusOK, "ready\n")
		return nil
	})
	handler := promhttp.HandlerFor(s.metrics.registry, promhttp.HandlerOpts{})
	s.raw(http.MethodGet, "/metrics", anyone, func(c *gin.Context) error {
		if !local(c) {
			return defects.Refuse(defects.NotFound, "no_such_address", "there is nothing at this address")
		}
		handler.ServeHTTP(c.Writer, c.Request)
		return nil
	})
}

// local reports whether a request came from this machine and through no proxy.
func local(c *gin.Context) bool {
	peer, err := netip.ParseAddrPort(c.Request.RemoteAddr)
	return err == nil && peer.Addr().Unmap().IsLoopback() && c.GetHeader("X-Forwarded-For") == "" && c.GetHeader("Forwarded") == ""
}

// observe counts and logs each request. The route, not the address, is logged
// as the label, and never a query string or a header: they may hold secrets.
func (s *Server) observe(c *gin.Context) {
	start := time.Now()
	c.Next()
	name := c.FullPath()
	if name == "" {
		name = "unknown"
	}
	took := time.Since(start)
	status := c.Writer.Status()
	method := methodLabel(c.Request.Method)
	s.metrics.requests.WithLabelValues(method, name, fmt.Sprint(status)).Inc()
	s.metrics.seconds.WithLabelValues(method, name).Observe(took.Seconds())
	s.log.InfoContext(c.Request.Context(), "request", "method", c.Request.Method, "route", name,
		"status", status, "took", took.Round(time.Microsecond), "account", actorOf(c).AccountID)
}

// methodLabel keeps the label's values to a closed list: a method is whatever
// word a client sends.
func methodLabel(method string) string {
	switch method {
	case http.MethodGet, http.MethodHead, http.MethodPost, http.MethodPut, http.MethodPatch, http.MethodDelete, http.MethodOptions:
		return method
	}
	return "other"
}

// recoverPanic turns a programming fault into a logged 500.
func (s *Server) recoverPanic(c *gin.Context) {
	defer func() {
		if r := recover(); r != nil {
			if r == http.ErrAbortHandler { //nolint:errorlint // the documented sentinel of net/http
				panic(r)
			}
			s.log.ErrorContext(c.Request.Context(), "panic", "route", c.FullPath(), "value", fmt.Sprint(r),
				"stack", string(debug.Stack()))
			if !c.Writer.Written() {
				s.fail(c, fmt.Errorf("panic: %v", r))
			}
			c.Abort()
		}
	}()
	c.Next()
}
