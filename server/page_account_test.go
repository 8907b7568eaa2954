package server_test

import (
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
)

// signInFrom sends the sign-in form from an address and answers the status.
func signInFrom(w *world, address, login, password string) *httptest.ResponseRecorder {
	body := url.Values{"login": {login}, "password": {password}}.Encode()
	req := httptest.NewRequest(http.MethodPost, "/sign-in", strings.NewReader(body))
	req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	req.RemoteAddr = address
	rec := httptest.NewRecorder()
	w.srv.Handler().ServeHTTP(rec, req)
	return rec
}

func TestGuessesSentAtOnceCountAsMany(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	login := w.as(defects.Clerk).login
	var mu sync.Mutex
	got := map[int]int{}
	var wg sync.WaitGroup
	for i := range 30 {
		wg.Go(func() {
			spelt := login
			if i%2 == 1 {
				spelt = strings.ToUpper(login) + " "
			}
			code := signInFrom(w, "192.0.2.7:4711", spelt, "a wrong password").Code
			mu.Lock()
			defer mu.Unlock()
			got[code]++
		})
	}
	wg.Wait()
	require.Equal(t, map[int]int{http.StatusUnauthorized: 10, http.StatusTooManyRequests: 20}, got)
}

func TestWrongPasswordsFromElsewhereLockNobodyOut(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	login := w.as(defects.Clerk).login
	for range 12 {
		signInFrom(w, "[2001:db8::1]:4711", login, "a wrong password")
	}
	require.Equal(t, http.StatusTooManyRequests, signInFrom(w, "[2001:db8::2]:1", login, testPassword).Code, "the same network")
	require.Equal(t, http.StatusSeeOther, signInFrom(w, "192.0.2.8:1", login, testPassword).Code)
	w.clock.advance(11 * time.Minute)
	require.Equal(t, http.StatusSeeOther, signInFrom(w, "[2001:db8::2]:1", login, testPassword).Code)
}

func TestASuccessForgetsTheFailuresBefore(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	login := w.as(defects.Clerk).login
	for range 3 {
		for range 9 {
			require.Equal(t, http.StatusUnauthorized, signInFrom(w, "192.0.2.7:1", login, "a wrong password").Code)
		}
		require.Equal(t, http.StatusSeeOther, signInFrom(w, "192.0.2.7:1", login, testPassword).Code)
	}
}

func TestOneAddressMayNotTryEveryLogin(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	refused := 0
	for i := range 120 {
		if signInFrom(w, "192.0.2.7:1", "login."+strings.Repeat("x", i%60), "a wrong password").Code == http.StatusTooManyRequests {
			refused++
		}
	}
	require.Equal(t, 20, refused)
}

func TestThePresentPasswordCannotBeGuessedFromASession(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	v := w.visit(defects.Clerk)
	change := func(old string) int {
		return v.post("/me/password", url.Values{"old_password": {old}, "new_password": {"another invented one"}}).Status
	}
	for range 10 {
		require.Equal(t, http.StatusForbidden, change("a wrong password"))
	}
	require.Equal(t, http.StatusTooManyRequests, change(testPassword))
	w.clock.advance(11 * time.Minute)
	require.Equal(t, http.StatusOK, change(testPassword))
}

func TestSigningInNeverLeadsToAnotherSite(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	for next, want := range map[string]string{
		"/sites/x?tab=1#y":        "/sites/x?tab=1#y",
		"//elsewhere.example":     "/",
		"/\t/elsewhere.example":   "/",
		"/\n/elsewhere.example":   "/",
		"/\x7f/elsewhere.example": "/",
		"/\\elsewhere.example":    "/",
		"\\/elsewhere.example":    "/",
		"https://a.example/":      "/",
		"https:/a.example":        "/",
		"javascript:alert(1)":     "/",
		" /x":                     "/",
		"":                        "/",
	} {
		body := url.Values{"login": {w.as(defects.Clerk).login}, "password": {testPassword}, "next": {next}}.Encode()
		got := (&client{w: w}).send("POST", "/sign-in", "application/x-www-form-urlencoded", []byte(body)).want(http.StatusSeeOther)
		require.Equal(t, want, got.Header.Get("Location"), "%q", next)
	}
}
