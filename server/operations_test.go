package server_test

import (
	"net/http"
	"net/http/httptest"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestOperationsAnswer(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	nobody := &client{w: w}
	nobody.get("/healthz").want(http.StatusOK)
	nobody.get("/readyz").want(http.StatusOK)
	require.Contains(t, string(nobody.get("/metrics").want(http.StatusOK).Body), "storeyrod_http_requests_total")
	require.NoError(t, w.store.Close())
	nobody.get("/readyz").refused(http.StatusServiceUnavailable, "not_ready")
}

func TestMetricsAnswerThisMachineOnly(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	for _, from := range []struct{ addr, forwarded string }{{"192.0.2.7:4711", ""}, {"127.0.0.1:4711", "192.0.2.7"}} {
		req := httptest.NewRequest(http.MethodGet, "/metrics", nil)
		req.RemoteAddr = from.addr
		if from.forwarded != "" {
			req.Header.Set("X-Forwarded-For", from.forwarded)
		}
		rec := httptest.NewRecorder()
		w.srv.Handler().ServeHTTP(rec, req)
		require.Equal(t, http.StatusNotFound, rec.Code, from.addr)
	}
}

func TestAnAddressOutsideTheTableIsAPlainNotFound(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	(&client{w: w}).get("/api/v1/nothing").refused(http.StatusNotFound, "no_such_address")
	(&client{w: w}).send("DELETE", "/healthz", "", nil).want(http.StatusMethodNotAllowed)
}

func TestAWriteFromAnotherSitesPageIsRefused(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	got := (&client{w: w}).with("Sec-Fetch-Site", "cross-site").send("POST", "/sign-in", "application/x-www-form-urlencoded", []byte("login=a&password=b"))
	got.want(http.StatusForbidden)
}

func TestAnInventedMethodAddsNoSeriesOfItsOwn(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	nobody := &client{w: w}
	for _, method := range []string{"BREW", "PROPFIND", "X-1"} {
		nobody.send(method, "/healthz", "", nil).want(http.StatusMethodNotAllowed)
	}
	got := string(nobody.get("/metrics").Body)
	require.Contains(t, got, `method="other"`)
	require.NotContains(t, got, "BREW")
}
