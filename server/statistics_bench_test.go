//go:build unix

package server_test

import (
	"net/http"
	"net/http/httptest"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/models/modelstest"
)

// BenchmarkStatistics asks for the whole statistics page of an elevation with
// 10,000 readings, from the request to the last byte of the page, without the
// network. "ms" is the time that passed, "cpu-ms" what the processor worked for it.
func BenchmarkStatistics(b *testing.B) {
	w := newWorld(b, modelstest.Open(b))
	north := w.walls()["North"]
	w.manyReadings(north, 10_000)
	v := w.visit(defects.Clerk)
	address := "/sites/" + w.site.ID + "/statistics?quantity=joint_width_bed&elevation=" + north
	v.get(address).want(http.StatusOK)
	req := httptest.NewRequestWithContext(b.Context(), http.MethodGet, address, nil)
	at, err := http.NewRequest(http.MethodGet, w.http.URL, nil)
	require.NoError(b, err)
	for _, c := range v.b.Jar.Cookies(at.URL) {
		req.AddCookie(c)
	}
	var size int
	worked := func() time.Duration {
		var u syscall.Rusage
		require.NoError(b, syscall.Getrusage(syscall.RUSAGE_SELF, &u))
		return time.Duration(u.Utime.Nano() + u.Stime.Nano())
	}
	before := worked()
	for b.Loop() {
		res := httptest.NewRecorder()
		w.srv.Handler().ServeHTTP(res, req)
		require.Equal(b, http.StatusOK, res.Code)
		size = res.Body.Len()
	}
	b.ReportMetric(float64(b.Elapsed().Microseconds())/1000/float64(b.N), "ms")
	b.ReportMetric(float64((worked()-before).Microseconds())/1000/float64(b.N), "cpu-ms")
	b.ReportMetric(float64(size)/1024, "KB")
}
