package server_test

import (
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/server"
)

func TestEveryPageOfADemonstrationSaysThatItIsInvented(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	const line = "are invented for demonstration"
	for _, invented := range []bool{true, false} {
		srv, err := server.New(server.Options{
			Register: w.reg, Logger: slog.New(slog.NewTextHandler(io.Discard, nil)), Version: "test",
			Ready: w.store.Ping, MaxPhoto: 1 << 20, Invented: invented,
		})
		require.NoError(t, err)
		for _, path := range []string{"/sign-in", "/link", "/set-up", "/nowhere"} {
			rec := httptest.NewRecorder()
			srv.Handler().ServeHTTP(rec, httptest.NewRequest(http.MethodGet, path, nil))
			require.Contains(t, rec.Header().Get("Content-Type"), "text/html", path)
			if invented {
				require.Contains(t, rec.Body.String(), line, path)
			} else {
				require.NotContains(t, rec.Body.String(), line, path)
			}
		}
	}
}
