package server_test

import (
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/server"
)

func TestACorrectedRequestMayUseItsKeyAgain(t *testing.T) {
	t.Parallel()
	onBoth(t, func(w *world) {
		north := w.walls()["North"]
		clerk := w.as(defects.Clerk).with("Idempotency-Key", "phone-1-capture-78")
		body := m{"code": "SL-12", "text": "chipped", "place": m{"elevation_id": north, "bay": 99, "lift": 1}}
		clerk.post(w.path("/snags"), body).want(http.StatusUnprocessableEntity)
		body["place"] = m{"elevation_id": north, "bay": 1, "lift": 1}
		clerk.post(w.path("/snags"), body).want(http.StatusCreated)
		clerk.json("PATCH", w.path(""), m{"name": "x"}).refused(http.StatusConflict, "idempotency_key_reused")
		site := w.as(defects.Manager).with("Idempotency-Key", "site-1")
		site.json("PATCH", w.path(""), m{"name": "Larkrow Yard"}).refused(http.StatusPreconditionRequired, "version_needed")
		site.with("If-Match", `"v1"`).json("PATCH", w.path(""), m{"name": "Larkrow Yard"}).want(http.StatusOK)
	})
}

func TestAKeyClaimedByAnotherServerIsNotRunAgain(t *testing.T) {
	t.Parallel()
	onBoth(t, func(w *world) {
		// What the other server does: it claims, and dies before it answers.
		other := w.as(defects.Clerk)
		body := m{"code": "SL-12", "text": "chipped", "place": m{"elevation_id": w.walls()["North"], "bay": 1, "lift": 1}}
		key := "phone-1-capture-79"
		print := server.Fingerprint(t, "POST", w.path("/snags"), body)
		_, err := w.reg.Claim(t.Context(), register.Actor{AccountID: other.id}, key, print)
		require.NoError(t, err)
		send := func() answer { return other.with("Idempotency-Key", key).post(w.path("/snags"), body) }
		got := send()
		got.refused(http.StatusConflict, "idempotency_in_progress")
		require.NotEmpty(t, got.Header.Get("Retry-After"))
		require.Empty(t, other.get(w.path("/snags")).list("items"))
		w.clock.advance(2 * time.Minute)
		require.Equal(t, "1", send().want(http.StatusCreated).str("number"))
		require.Equal(t, "true", send().want(http.StatusCreated).Header.Get("Idempotency-Replayed"))
	})
}

func TestNoSecretOfATokenIsKeptAsAnAnswer(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	clerk := w.as(defects.Clerk)
	keyed := clerk.with("Idempotency-Key", "token-1")
	p := keyed.post("/api/v1/me/tokens", m{"label": "a program"}).refused(http.StatusUnprocessableEntity, "key_not_taken")
	require.Equal(t, "Idempotency-Key", p.Field)
	clerk.post("/api/v1/me/tokens", m{"label": "a program"}).want(http.StatusCreated)
	err := w.store.Read(t.Context(), func(tx register.Tx) error {
		_, err := tx.Replies().Reply(t.Context(), clerk.id, "token-1")
		return err
	})
	require.ErrorIs(t, err, defects.NotFound)
}
