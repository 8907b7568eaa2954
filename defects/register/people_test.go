package register_test

import (
	"errors"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

func TestTheSetUpLinkMakesTheFirstAccountOnce(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	needed, err := f.SetupNeeded(f.ctx())
	require.NoError(t, err)
	require.True(t, needed)
	link, err := f.CreateSetupLink(f.ctx())
	require.NoError(t, err)

	n := register.NewAccount{Login: " First@Example.org ", Name: "First Example", Password: testPassword}
	_, _, err = f.CompleteSetup(f.ctx(), "another", n, "desk")
	refused(t, err, defects.Unauthenticated, "link_over")
	_, _, err = f.CompleteSetup(f.ctx(), link, register.NewAccount{Login: "first", Name: "First"}, "desk")
	refused(t, err, defects.Invalid, "bad_password")

	session, acc, err := f.CompleteSetup(f.ctx(), link, n, "desk")
	require.NoError(t, err)
	require.True(t, acc.Admin)
	require.Equal(t, "first@example.org", acc.Login)
	require.Empty(t, acc.PasswordHash)
	who, _, err := f.Authenticate(f.ctx(), session, defects.SessionKey)
	require.NoError(t, err)
	require.Equal(t, acc.ID, who.AccountID)
	require.Equal(t, "desk", who.Device)

	_, _, err = f.CompleteSetup(f.ctx(), link, n, "desk")
	refused(t, err, defects.Conflict, "already_set_up")
	_, err = f.CreateSetupLink(f.ctx())
	refused(t, err, defects.Conflict, "already_set_up")
	needed, err = f.SetupNeeded(f.ctx())
	require.NoError(t, err)
	require.False(t, needed)
}

func TestTheSetUpLinkIsNoSignInLinkAndTheOtherWayRound(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	link, err := f.CreateSetupLink(f.ctx())
	require.NoError(t, err)
	_, _, err = f.UseLink(f.ctx(), link, testPassword, "")
	refused(t, err, defects.Unauthenticated, "link_over")
	f.clock.add(register.LinkMost)
	_, _, err = f.CompleteSetup(f.ctx(), link, register.NewAccount{Login: "late", Name: "Late", Password: testPassword}, "")
	refused(t, err, defects.Unauthenticated, "link_over")
}

func TestAWrongLoginAndAWrongPasswordLookTheSame(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	f.account("amal")
	disabled := f.account("bo")
	require.NoError(t, f.SetDisabled(f.ctx(), register.System(""), "bo", true))
	_, err := f.CreateAccount(f.ctx(), register.System(""), register.NewAccount{Login: "linkonly", Name: "No Password"})
	require.NoError(t, err)

	verified := 0
	reg := f.with(func(d *register.Deps) {
		verify := d.Verify
		d.Verify = func(p, h string) (bool, error) { verified++; return verify(p, h) }
	})
	var texts []string
	for _, try := range [][2]string{
		{"amal", "wrong password"},
		{"nobody", testPassword},
		{"bo", testPassword},
		{"linkonly", ""},
		{"", ""},
		{"nobody", "no account has this password"},
		{"nobody", ""},
	} {
		before := verified
		_, _, err := reg.SignIn(f.ctx(), try[0], try[1], "phone")
		texts = append(texts, refused(t, err, defects.Unauthenticated, "bad_sign_in").Error())
		require.Equal(t, before+1, verified, "the same work for %q", try[0])
	}
	for _, text := range texts {
		require.Equal(t, texts[0], text)
	}
	require.NotEmpty(t, disabled.AccountID)
	_, acc, err := reg.SignIn(f.ctx(), " AMAL ", testPassword, "phone")
	require.NoError(t, err)
	require.Equal(t, "amal", acc.Login)
}

func TestASessionEndsTwoWeeksAfterItsLastUse(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	f.account("amal")
	secret, _, err := f.SignIn(f.ctx(), "amal", testPassword, "phone")
	require.NoError(t, err)
	for range 3 { // 39 days in all, since it is used every 13
		f.clock.add(13 * 24 * time.Hour)
		_, _, err = f.Authenticate(f.ctx(), secret, defects.SessionKey)
		require.NoError(t, err)
	}
	f.clock.add(register.SessionIdle)
	_, _, err = f.Authenticate(f.ctx(), secret, defects.SessionKey)
	refused(t, err, defects.Unauthenticated, "unauthenticated")
}

func TestASessionEndsNinetyDaysAfterSignInAtTheLatest(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	f.account("amal")
	secret, _, err := f.SignIn(f.ctx(), "amal", testPassword, "phone")
	require.NoError(t, err)
	for range 8 { // 80 days
		f.clock.add(10 * 24 * time.Hour)
		_, _, err = f.Authenticate(f.ctx(), secret, defects.SessionKey)
		require.NoError(t, err)
	}
	f.clock.add(10 * 24 * time.Hour)
	_, _, err = f.Authenticate(f.ctx(), secret, defects.SessionKey)
	refused(t, err, defects.Unauthenticated, "unauthenticated")
	f.clock.add(25 * time.Hour)
	n, err := f.SweepKeys(f.ctx())
	require.NoError(t, err)
	require.Equal(t, 1, n)
}

func TestASecretServesItsOwnKindOnly(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	amal := f.account("amal")
	session, _, err := f.SignIn(f.ctx(), "amal", testPassword, "phone")
	require.NoError(t, err)
	token, _, err := f.CreateToken(f.ctx(), amal, "weather station", time.Hour)
	require.NoError(t, err)
	link, err := f.CreateLink(f.ctx(), register.System(""), "amal", 0)
	require.NoError(t, err)

	_, _, err = f.Authenticate(f.ctx(), session, defects.TokenKey)
	refused(t, err, defects.Unauthenticated, "bad_token")
	_, _, err = f.Authenticate(f.ctx(), token, defects.SessionKey)
	refused(t, err, defects.Unauthenticated, "unauthenticated")
	_, _, err = f.Authenticate(f.ctx(), link, defects.SessionKey)
	refused(t, err, defects.Unauthenticated, "unauthenticated")
	_, _, err = f.UseLink(f.ctx(), session, "", "phone")
	refused(t, err, defects.Unauthenticated, "link_over")
	_, k, err := f.Authenticate(f.ctx(), token, defects.TokenKey)
	require.NoError(t, err)
	require.Empty(t, k.Hash)
	f.clock.add(time.Hour)
	_, _, err = f.Authenticate(f.ctx(), token, defects.TokenKey)
	refused(t, err, defects.Unauthenticated, "bad_token")
}

func TestOnlyTheHashOfASecretIsStored(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	amal := f.account("amal")
	secret, k, err := f.CreateToken(f.ctx(), amal, "weather station", time.Hour)
	require.NoError(t, err)
	err = f.Store.Read(f.ctx(), func(tx register.Tx) error {
		keys, err := tx.Keys().KeysOf(f.ctx(), amal.AccountID)
		require.Len(t, keys, 1)
		require.Equal(t, k.ID, keys[0].ID)
		require.Len(t, keys[0].Hash, 64)
		require.NotContains(t, keys[0].Hash, secret)
		return err
	})
	require.NoError(t, err)
	for _, e := range f.logged(register.InstanceLog) {
		require.NotContains(t, string(e.Data), secret)
		require.NotContains(t, string(e.Data), "hashed:", "no password hash in the log")
	}
}

func TestALinkWorksOnceAndMayChangeThePassword(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	f.account("amal")
	old, _, err := f.SignIn(f.ctx(), "amal", testPassword, "old phone")
	require.NoError(t, err)
	link, err := f.CreateLink(f.ctx(), register.System(""), "amal", time.Hour)
	require.NoError(t, err)
	spare, err := f.CreateLink(f.ctx(), register.System(""), "amal", time.Hour)
	require.NoError(t, err)

	_, _, err = f.UseLink(f.ctx(), link, "too short", "phone")
	refused(t, err, defects.Invalid, "bad_password")
	session, acc, err := f.UseLink(f.ctx(), link, "another invented password", "phone")
	require.NoError(t, err, "a refused password does not use the link up")
	require.Equal(t, "amal", acc.Login)
	_, _, err = f.Authenticate(f.ctx(), session, defects.SessionKey)
	require.NoError(t, err)

	for _, l := range []string{link, spare} {
		_, _, err = f.UseLink(f.ctx(), l, "", "phone")
		refused(t, err, defects.Unauthenticated, "link_over")
	}
	_, _, err = f.Authenticate(f.ctx(), old, defects.SessionKey)
	refused(t, err, defects.Unauthenticated, "unauthenticated")
	_, _, err = f.SignIn(f.ctx(), "amal", testPassword, "phone")
	refused(t, err, defects.Unauthenticated, "bad_sign_in")
	_, _, err = f.SignIn(f.ctx(), "amal", "another invented password", "phone")
	require.NoError(t, err)
}

func TestALinkWithoutAPasswordKeepsTheOldOne(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	f.account("amal")
	link, err := f.CreateLink(f.ctx(), register.System(""), "amal", time.Hour)
	require.NoError(t, err)
	f.clock.add(59 * time.Minute)
	_, _, err = f.UseLink(f.ctx(), link, "", "phone")
	require.NoError(t, err)
	_, _, err = f.SignIn(f.ctx(), "amal", testPassword, "phone")
	require.NoError(t, err)

	late, err := f.CreateLink(f.ctx(), register.System(""), "amal", time.Hour)
	require.NoError(t, err)
	f.clock.add(time.Hour)
	_, _, err = f.UseLink(f.ctx(), late, "", "phone")
	refused(t, err, defects.Unauthenticated, "link_over")
}

func TestChangingThePasswordEndsOtherSessionsOnly(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	amal := f.account("amal")
	here, _, err := f.SignIn(f.ctx(), "amal", testPassword, "phone")
	require.NoError(t, err)
	there, _, err := f.SignIn(f.ctx(), "amal", testPassword, "desk")
	require.NoError(t, err)
	token, _, err := f.CreateToken(f.ctx(), amal, "script", time.Hour)
	require.NoError(t, err)
	me, _, err := f.Authenticate(f.ctx(), here, defects.SessionKey)
	require.NoError(t, err)

	refused(t, f.ChangePassword(f.ctx(), me, "wrong password", "another invented password"), defects.Forbidden, "wrong_password")
	refused(t, f.ChangePassword(f.ctx(), me, testPassword, "eleven char"), defects.Invalid, "bad_password")
	require.NoError(t, f.ChangePassword(f.ctx(), me, testPassword, "another invented password"))
	_, _, err = f.Authenticate(f.ctx(), here, defects.SessionKey)
	require.NoError(t, err)
	_, _, err = f.Authenticate(f.ctx(), token, defects.TokenKey)
	require.NoError(t, err)
	_, _, err = f.Authenticate(f.ctx(), there, defects.SessionKey)
	refused(t, err, defects.Unauthenticated, "unauthenticated")
}

func TestKeysAreEndedByTheirOwnerOrAnAdmin(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	amal, bo, root := f.account("amal"), f.account("bo"), f.admin("root")
	_, first, err := f.CreateToken(f.ctx(), amal, "first", time.Hour)
	require.NoError(t, err)
	f.clock.add(time.Second)
	secret, second, err := f.CreateTokenFor(f.ctx(), root, "amal", "second", time.Hour)
	require.NoError(t, err)

	keys, err := f.Keys(f.ctx(), amal)
	require.NoError(t, err)
	require.Len(t, keys, 2)
	require.Equal(t, "second", keys[0].Label)
	require.Empty(t, keys[0].Hash)

	refused(t, f.RevokeKey(f.ctx(), bo, first.ID), defects.NotFound, "key_not_found")
	require.NoError(t, f.SignOut(f.ctx(), first.ID, amal))
	require.NoError(t, f.RevokeKey(f.ctx(), root, second.ID))
	_, _, err = f.Authenticate(f.ctx(), secret, defects.TokenKey)
	refused(t, err, defects.Unauthenticated, "bad_token")
	keys, err = f.Keys(f.ctx(), amal)
	require.NoError(t, err)
	require.Empty(t, keys)
}

func TestADisabledAccountIsOutAtOnce(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	f.account("amal")
	root := f.admin("root")
	session, _, err := f.SignIn(f.ctx(), "amal", testPassword, "phone")
	require.NoError(t, err)
	link, err := f.CreateLink(f.ctx(), root, "amal", 0)
	require.NoError(t, err)
	require.NoError(t, f.SetDisabled(f.ctx(), root, "amal", true))
	_, _, err = f.Authenticate(f.ctx(), session, defects.SessionKey)
	refused(t, err, defects.Unauthenticated, "unauthenticated")
	_, _, err = f.UseLink(f.ctx(), link, testPassword, "phone")
	refused(t, err, defects.Unauthenticated, "link_over")
	_, err = f.CreateLink(f.ctx(), root, "amal", 0)
	refused(t, err, defects.Conflict, "account_disabled")
	refused(t, f.SetDisabled(f.ctx(), root, "root", true), defects.Forbidden, "own_account")
	require.NoError(t, f.SetDisabled(f.ctx(), root, "amal", false))
	_, _, err = f.SignIn(f.ctx(), "amal", testPassword, "phone")
	require.NoError(t, err)
}

func TestLivesOfTokensAndLinksAreBounded(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	amal := f.account("amal")
	for _, ttl := range []time.Duration{0, -time.Hour, register.TokenMost + 1} {
		_, _, err := f.CreateToken(f.ctx(), amal, "script", ttl)
		refused(t, err, defects.Invalid, "bad_ttl")
	}
	_, _, err := f.CreateToken(f.ctx(), amal, " ", time.Hour)
	refused(t, err, defects.Invalid, "name_empty")
	_, _, err = f.CreateToken(f.ctx(), register.System(""), "script", time.Hour)
	refused(t, err, defects.Forbidden, "no_account")
	for _, ttl := range []time.Duration{-1, register.LinkMost + 1} {
		_, err := f.CreateLink(f.ctx(), register.System(""), "amal", ttl)
		refused(t, err, defects.Invalid, "bad_ttl")
	}
	_, err = f.CreateLink(f.ctx(), register.System(""), "nobody", 0)
	refused(t, err, defects.NotFound, "account_not_found")
}

func TestAccountsAreMadeByAdminsOnly(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	amal, root := f.account("amal"), f.admin("root")
	n := register.NewAccount{Login: "bo", Name: "Bo", Password: testPassword}
	_, err := f.CreateAccount(f.ctx(), amal, n)
	refused(t, err, defects.Forbidden, "admin_only")
	_, err = f.CreateAccount(f.ctx(), register.Actor{}, n)
	refused(t, err, defects.Unauthenticated, "unauthenticated")
	_, err = f.Accounts(f.ctx(), amal)
	refused(t, err, defects.Forbidden, "admin_only")
	_, err = f.CreateLink(f.ctx(), amal, "amal", 0)
	refused(t, err, defects.Forbidden, "admin_only")
	_, _, err = f.CreateTokenFor(f.ctx(), amal, "root", "script", time.Hour)
	refused(t, err, defects.Forbidden, "admin_only")
	refused(t, f.SetDisabled(f.ctx(), amal, "root", true), defects.Forbidden, "admin_only")

	_, err = f.CreateAccount(f.ctx(), root, n)
	require.NoError(t, err)
	n.Login = "BO"
	_, err = f.CreateAccount(f.ctx(), root, n)
	refused(t, err, defects.Conflict, "login_taken")
	list, err := f.Accounts(f.ctx(), root)
	require.NoError(t, err)
	require.Len(t, list, 3)
	for _, a := range list {
		require.Empty(t, a.PasswordHash)
	}
}

func TestBadAccountsAreRefusedByField(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	long := make([]byte, 201)
	for i := range long {
		long[i] = 'x'
	}
	for name, tc := range map[string]struct {
		n           register.NewAccount
		field, code string
	}{
		"short login":    {register.NewAccount{Login: "a", Name: "A", Password: testPassword}, "login", "bad_login"},
		"space in login": {register.NewAccount{Login: "a b", Name: "A", Password: testPassword}, "login", "bad_login"},
		"letter outside": {register.NewAccount{Login: "añb", Name: "A", Password: testPassword}, "login", "bad_login"},
		"empty name":     {register.NewAccount{Login: "ab", Name: "  ", Password: testPassword}, "name", "name_empty"},
		"long name":      {register.NewAccount{Login: "ab", Name: string(long), Password: testPassword}, "name", "text_too_long"},
		"control":        {register.NewAccount{Login: "ab", Name: "A\nB", Password: testPassword}, "name", "bad_text"},
		"not UTF-8":      {register.NewAccount{Login: "ab", Name: "A\xff", Password: testPassword}, "name", "bad_text"},
		"short password": {register.NewAccount{Login: "ab", Name: "A", Password: "éééééééé123"}, "password", "bad_password"},
		"long password":  {register.NewAccount{Login: "ab", Name: "A", Password: string(long)}, "password", "bad_password"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			_, err := f.CreateAccount(t.Context(), register.System(""), tc.n)
			require.Equal(t, tc.field, refused(t, err, defects.Invalid, tc.code).Field)
		})
	}
}

func TestABurstOfSignInsIsToldToComeAgain(t *testing.T) {
	t.Parallel()
	hold := make(chan struct{})
	f := newFixture(t)
	reg := f.with(func(d *register.Deps) {
		d.Verify = func(string, string) (bool, error) { <-hold; return false, nil }
	})
	const all = 60
	codes := make(chan string, all)
	for range all {
		go func() {
			_, _, err := reg.SignIn(f.ctx(), "nobody", "a wrong password", "")
			var e *defects.Error
			if !errors.As(err, &e) {
				e = &defects.Error{Code: "none"}
			}
			codes <- e.Code
		}()
	}
	got := map[string]int{}
	for range all - 34 { // two at work, 32 waiting: only the rest can come back
		got[<-codes]++
	}
	close(hold)
	for range 34 {
		got[<-codes]++
	}
	require.Equal(t, map[string]int{"too_busy": 26, "bad_sign_in": 34}, got)
}
