package register_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/evidence"
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
		got, _, err := b.SearchLog(b.ctx(), b.people.by(role), register.LogFilter{SiteID: b.people.site.ID, Oldest: true}, 1000)
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
	_, _, err := b.SearchLog(b.ctx(), b.stranger, register.LogFilter{SiteID: b.people.site.ID}, 10)
	refused(t, err, defects.NotFound, "site_not_found")
	part, _, err := b.SearchLog(b.ctx(), b.clerk, register.LogFilter{SiteID: b.people.site.ID, Oldest: true, From: 3}, 2)
	require.NoError(t, err)
	require.Equal(t, all[2:4], part)
}

func TestTheLogIsSearchedNewestFirst(t *testing.T) {
	t.Parallel()
	b := newSnagBed(t)
	site := b.people.site.ID
	one, two := b.raise(b.clerk, b.seen(1, 1)), b.raise(b.clerk, b.seen(2, 1))
	b.instruct(one)
	all := b.logged(site)
	slices.Reverse(all)
	search := func(f register.LogFilter, limit int) ([]evidence.Entry, int64) {
		f.SiteID = site
		entries, next, err := b.SearchLog(b.ctx(), b.clerk, f, limit)
		require.NoError(t, err)
		return entries, next
	}
	got, next := search(register.LogFilter{}, 1000)
	require.Equal(t, all, got)
	require.Zero(t, next)
	got, next = search(register.LogFilter{}, 2)
	require.Equal(t, all[:2], got)
	got, _ = search(register.LogFilter{Before: next}, 2)
	require.Equal(t, all[2:4], got, "the older page goes on where the newer one ended")

	got, _ = search(register.LogFilter{SubjectType: "snag", Number: two.Number}, 10)
	require.Len(t, got, 1)
	require.Equal(t, two.ID, got[0].Subject.ID)
	got, _ = search(register.LogFilter{Kind: "snag.instruct"}, 10)
	require.Len(t, got, 1)
	got, _ = search(register.LogFilter{ByID: b.clerk.AccountID}, 1000)
	require.NotEmpty(t, got)
	for _, e := range got {
		require.Equal(t, b.clerk.AccountID, e.Actor.ID)
	}
	got, next = search(register.LogFilter{Oldest: true, From: 2}, 2)
	require.Equal(t, []int64{2, 3}, []int64{got[0].Seq, got[1].Seq})
	require.Equal(t, int64(4), next)
	last := all[0].At
	got, _ = search(register.LogFilter{Since: last}, 1000)
	require.Len(t, got, 1)
	got, _ = search(register.LogFilter{Until: last}, 1000)
	require.Len(t, got, len(all)-1)

	_, _, err := b.SearchLog(b.ctx(), b.owner, register.LogFilter{SiteID: site}, 10)
	refused(t, err, defects.Forbidden, "role_forbidden")
	_, _, err = b.SearchLog(b.ctx(), b.stranger, register.LogFilter{SiteID: site}, 10)
	refused(t, err, defects.NotFound, "site_not_found")
}

func TestAnAnswerIsRememberedForADay(t *testing.T) {
	t.Parallel()
	b := newFixture(t)
	a, other := b.account("ann"), b.account("bo")
	claim, err := b.Claim(b.ctx(), a, "key-1", "print-1")
	require.NoError(t, err)
	require.Zero(t, claim.Status)
	_, err = b.Claim(b.ctx(), a, "key-1", "print-1")
	refused(t, err, defects.Conflict, "idempotency_in_progress")
	_, err = b.Claim(b.ctx(), a, "key-1", "print-2")
	refused(t, err, defects.Conflict, "idempotency_key_reused")
	claim.Status, claim.ContentType, claim.Location, claim.ETag, claim.Body = 201, "application/json", "/api/v1/x", `"1"`, []byte(`{"a":1}`)
	require.NoError(t, b.Answer(b.ctx(), claim))
	got, err := b.Claim(b.ctx(), a, "key-1", "print-1")
	require.NoError(t, err)
	require.Equal(t, claim, got)
	got, err = b.Claim(b.ctx(), other, "key-1", "print-2")
	require.NoError(t, err)
	require.Zero(t, got.Status, "keys are each person's own")
	for _, key := range []string{"", strings.Repeat("k", 201)} {
		_, err = b.Claim(b.ctx(), a, key, "print-1")
		refused(t, err, defects.Invalid, "bad_idempotency_key")
	}
	b.clock.add(24*time.Hour + time.Second)
	got, err = b.Claim(b.ctx(), a, "key-1", "print-2")
	require.NoError(t, err, "an old key can be used again")
	require.Zero(t, got.Status)
}

func TestAClaimThatIsOverCannotTouchTheOneAfterIt(t *testing.T) {
	t.Parallel()
	b := newFixture(t)
	a := b.account("ann")
	first, err := b.Claim(b.ctx(), a, "key-1", "print-1")
	require.NoError(t, err)
	b.clock.add(2 * time.Minute)
	second, err := b.Claim(b.ctx(), a, "key-1", "print-1")
	require.NoError(t, err)
	require.Zero(t, second.Status)
	first.Status = 201
	require.NoError(t, b.Answer(b.ctx(), first))
	require.NoError(t, b.Release(b.ctx(), first))
	_, err = b.Claim(b.ctx(), a, "key-1", "print-1")
	refused(t, err, defects.Conflict, "idempotency_in_progress")
	require.NoError(t, b.Release(b.ctx(), second))
	third, err := b.Claim(b.ctx(), a, "key-1", "print-2")
	require.NoError(t, err)
	require.Zero(t, third.Status, "given back")
}
