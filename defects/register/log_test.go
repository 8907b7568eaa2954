package register_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

func TestTheLogIsReadByThoseWhoMay(t *testing.T) {
	t.Parallel()
	b := newSnagBed(t)
	s := b.raise(b.clerk, b.seen(1, 1))
	b.instruct(s)
	all := b.logged(b.people.site.ID)
	for role, may := range map[defects.Role]bool{
		defects.Clerk: true, defects.Auditor: true, defects.Designer: true, defects.Manager: true,
		defects.Installer: false, defects.Operative: false, defects.Owner: false,
	} {
		got, err := b.LogEntries(b.ctx(), b.people.by(role), b.people.site.ID, 0, 1000)
		of, oerr := b.EntriesOf(b.ctx(), b.people.by(role), b.people.site.ID, "snag", s.ID)
		if !may {
			refused(t, err, defects.Forbidden, "role_forbidden")
			refused(t, oerr, defects.Forbidden, "role_forbidden")
			continue
		}
		require.NoError(t, err)
		require.NoError(t, oerr)
		require.Equal(t, all, got)
		require.Len(t, of, 2)
		require.Equal(t, []string{"snag.raise", "snag.instruct"}, []string{of[0].Kind, of[1].Kind})
	}
	_, err := b.LogEntries(b.ctx(), b.stranger, b.people.site.ID, 1, 10)
	refused(t, err, defects.NotFound, "site_not_found")
	part, err := b.LogEntries(b.ctx(), b.clerk, b.people.site.ID, 3, 2)
	require.NoError(t, err)
	require.Equal(t, all[2:4], part)
}

func TestRepliesAreRememberedForADay(t *testing.T) {
	t.Parallel()
	b := newFixture(t)
	a, other := b.account("ann"), b.account("bo")
	got, err := b.Recall(b.ctx(), a, "key-1", "print-1")
	require.NoError(t, err)
	require.Nil(t, got)
	reply := register.Reply{
		AccountID: a.AccountID, Key: "key-1", Fingerprint: "print-1", Status: 201, ContentType: "application/json",
		Location: "/api/v1/x", ETag: `"1"`, Body: []byte(`{"a":1}`), At: b.Now(),
	}
	require.NoError(t, b.Remember(b.ctx(), reply))
	got, err = b.Recall(b.ctx(), a, "key-1", "print-1")
	require.NoError(t, err)
	require.Equal(t, &reply, got)
	_, err = b.Recall(b.ctx(), a, "key-1", "print-2")
	refused(t, err, defects.Conflict, "idempotency_key_reused")
	got, err = b.Recall(b.ctx(), other, "key-1", "print-2")
	require.NoError(t, err)
	require.Nil(t, got, "keys are each person's own")
	for _, key := range []string{"", strings.Repeat("k", 201)} {
		_, err = b.Recall(b.ctx(), a, key, "print-1")
		refused(t, err, defects.Invalid, "bad_idempotency_key")
	}
	b.clock.add(24*time.Hour + time.Second)
	got, err = b.Recall(b.ctx(), a, "key-1", "print-2")
	require.NoError(t, err)
	require.Nil(t, got)
	reply.Fingerprint, reply.At = "print-2", time.Time{}
	require.NoError(t, b.Remember(b.ctx(), reply), "an old key can be used again")
}
