package server_test

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
)

// halfSent opens a connection, sends a request's head and a part of its body.
func halfSent(t *testing.T, w *world, head, part string) net.Conn {
	t.Helper()
	conn, err := net.Dial("tcp", strings.TrimPrefix(w.http.URL, "http://"))
	require.NoError(t, err)
	t.Cleanup(func() { _ = conn.Close() })
	require.NoError(t, conn.SetDeadline(time.Now().Add(30*time.Second)))
	_, err = io.WriteString(conn, head+part)
	require.NoError(t, err)
	return conn
}

func headOf(path, token, kind string, length int) string {
	head := fmt.Sprintf("POST %s HTTP/1.1\r\nHost: storeyrod.example\r\nContent-Type: %s\r\nContent-Length: %d\r\n", path, kind, length)
	if token != "" {
		head += "Authorization: Bearer " + token + "\r\n"
	}
	return head + "\r\n"
}

func TestABodyThatStallsIsEndedOnEveryRoute(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	token := w.as(defects.Clerk).token
	for _, c := range []struct{ path, token, kind, part string }{
		{w.path("/snags"), token, "application/json", `{"code":`},
		{w.path("/readings"), token, "text/csv", "quantity,value\n"},
		{w.path("/readings"), token, "application/json", "["},
		{w.path("/photos"), token, "image/jpeg", "\xff\xd8\xff\xe0"},
		{w.path("/buildings"), token, "application/geo+json", "{"},
		{"/sign-in", "", "application/x-www-form-urlencoded", "login=a"},
	} {
		t.Run(c.path+" "+c.kind, func(t *testing.T) {
			t.Parallel()
			start := time.Now()
			conn := halfSent(t, w, headOf(c.path, c.token, c.kind, 1000), c.part)
			res, err := http.ReadResponse(bufio.NewReader(conn), nil)
			require.NoError(t, err)
			defer res.Body.Close() //nolint:errcheck // read side
			body, err := io.ReadAll(res.Body)
			require.NoError(t, err)
			require.Equal(t, http.StatusRequestTimeout, res.StatusCode, "%s", body)
			if strings.HasPrefix(c.path, "/api/") {
				require.Contains(t, string(body), `"too_slow"`)
			}
			require.GreaterOrEqual(t, time.Since(start), testBodyWait)
		})
	}
}

func TestABodyNobodyReadsDoesNotHoldItsConnection(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	conn := halfSent(t, w, headOf(w.path("/snags"), "", "application/json", 1000), "{")
	all, err := io.ReadAll(conn) // ends when the server closes the connection
	if err != nil {
		require.NotErrorIs(t, err, net.ErrClosed)
		var slow net.Error
		require.False(t, errors.As(err, &slow) && slow.Timeout(), "the server let it hang")
	}
	require.Contains(t, string(all), "401 Unauthorized")
}

func TestASlowButSteadyBodyIsTaken(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	north := w.walls()["North"]
	body := fmt.Sprintf(`{"code":"SL-12","text":"chipped","place":{"elevation_id":%q,"bay":1,"lift":1}}`, north)
	conn := halfSent(t, w, headOf(w.path("/snags"), w.as(defects.Clerk).token, "application/json", len(body)), "")
	const pieces = 7
	for i := range pieces { // longer in all than one wait
		time.Sleep(testBodyWait / 5)
		_, err := io.WriteString(conn, body[len(body)*i/pieces:len(body)*(i+1)/pieces])
		require.NoError(t, err)
	}
	res, err := http.ReadResponse(bufio.NewReader(conn), nil)
	require.NoError(t, err)
	defer res.Body.Close() //nolint:errcheck // read side
	got, err := io.ReadAll(res.Body)
	require.NoError(t, err)
	require.Equal(t, http.StatusCreated, res.StatusCode, "%s", got)
}
