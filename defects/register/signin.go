package register

import (
	"context"
	"time"

	"storeyrod/defects"
)

// setupOwner stands for the account that the set-up link is going to make.
const setupOwner = ""

// SetupNeeded reports whether nobody can sign in yet.
func (r *Register) SetupNeeded(ctx context.Context) (needed bool, err error) {
	err = r.Store.Read(ctx, func(tx Tx) (err error) {
		needed, err = noAccounts(ctx, tx)
		return err
	})
	return needed, err
}

func noAccounts(ctx context.Context, tx Tx) (bool, error) {
	all, err := tx.People().Accounts(ctx)
	return len(all) == 0, err
}

// CreateSetupLink makes the secret of the link by which the first account is
// made. It ends the one before it. With an account there it answers Conflict
// "already_set_up".
func (r *Register) CreateSetupLink(ctx context.Context) (secret string, err error) {
	secret, k := r.newKey(defects.LinkKey, setupOwner, "first set-up", LinkMost)
	err = r.Store.Write(ctx, func(tx Tx) error {
		if err := mustSetUp(ctx, tx); err != nil {
			return err
		}
		if err := tx.Keys().RevokeKeysOf(ctx, setupOwner, defects.LinkKey); err != nil {
			return err
		}
		return r.insertKey(ctx, tx, System(""), k)
	})
	if err != nil {
		return "", err
	}
	return secret, nil
}

func mustSetUp(ctx context.Context, tx Tx) error {
	needed, err := noAccounts(ctx, tx)
	if err == nil && !needed {
		return errSetUp()
	}
	return err
}

func errSetUp() error {
	return defects.Refuse(defects.Conflict, "already_set_up", "there is an account already; sign in, or ask for a link")
}

// CompleteSetup makes the first account, an admin, and signs it in.
func (r *Register) CompleteSetup(ctx context.Context, secret string, n NewAccount, device string) (session string, a defects.Account, err error) {
	check := func(tx Tx) (defects.Key, error) {
		if err := mustSetUp(ctx, tx); err != nil {
			return defects.Key{}, err
		}
		k, err := r.keyOf(ctx, tx, secret, defects.LinkKey)
		if err == nil && k.AccountID != setupOwner {
			return k, errKey(defects.LinkKey)
		}
		return k, err
	}
	// Looked at before hashing as well, so that a stranger cannot keep the
	// server busy with it.
	if err := r.Store.Read(ctx, func(tx Tx) error { _, err := check(tx); return err }); err != nil {
		return "", a, err
	}
	if n.Password == "" {
		return "", a, defects.RefuseField(defects.Invalid, "password", "bad_password", "choose a password")
	}
	n.Admin = true
	if a, err = r.newAccount(ctx, n); err != nil {
		return "", defects.Account{}, err
	}
	by := actorOf(a, device)
	session, k := r.newKey(defects.SessionKey, a.ID, cleanDevice(device), SessionMost)
	err = r.Store.Write(ctx, func(tx Tx) error {
		link, err := check(tx)
		if err != nil {
			return err
		}
		if err := r.insertAccount(ctx, tx, by, a); err != nil {
			return err
		}
		// The log has one writer at a time: whoever comes second waited for it
		// and now sees the first account.
		switch all, err := tx.People().Accounts(ctx); {
		case err != nil:
			return err
		case len(all) > 1:
			return errSetUp()
		}
		if err := r.revokeKey(ctx, tx, by, link); err != nil {
			return err
		}
		return r.insertKey(ctx, tx, by, k)
	})
	if err != nil {
		return "", defects.Account{}, err
	}
	return session, public(a), nil
}

// SignIn starts a session. Whether the login or the password was wrong, the
// answer is the same and takes as long. Slowing down guesses is the caller's.
func (r *Register) SignIn(ctx context.Context, login, password, device string) (session string, a defects.Account, err error) {
	err = r.Store.Read(ctx, func(tx Tx) (err error) {
		a, err = tx.People().AccountByLogin(ctx, foldLogin(login))
		return err
	})
	if err != nil && !notFound(err) {
		return "", defects.Account{}, err
	}
	if err != nil || a.Disabled {
		a = defects.Account{}
	}
	ok, err := r.verifyPassword(ctx, password, a.PasswordHash)
	if err != nil {
		return "", defects.Account{}, err
	}
	if !ok {
		return "", defects.Account{}, defects.Refuse(defects.Unauthenticated, "bad_sign_in", "login or password is wrong")
	}
	session, k := r.newKey(defects.SessionKey, a.ID, cleanDevice(device), SessionMost)
	err = r.Store.Write(ctx, func(tx Tx) error {
		now, err := tx.People().Account(ctx, a.ID)
		if err != nil {
			return err
		}
		if now.Disabled || now.PasswordHash != a.PasswordHash { // changed while we were verifying
			return defects.Refuse(defects.Unauthenticated, "bad_sign_in", "login or password is wrong")
		}
		return r.insertKey(ctx, tx, actorOf(a, device), k)
	})
	if err != nil {
		return "", defects.Account{}, err
	}
	return session, public(a), nil
}

// CreateLink makes the secret of a one-time link that signs a person in and
// lets him choose a new password. Admins only; at most LinkMost, 0 = that.
func (r *Register) CreateLink(ctx context.Context, a Actor, login string, ttl time.Duration) (secret string, err error) {
	if err := admin(a); err != nil {
		return "", err
	}
	if ttl == 0 {
		ttl = LinkMost
	}
	if ttl < 0 || ttl > LinkMost {
		return "", defects.RefuseField(defects.Invalid, "ttl", "bad_ttl", "a link lives for at most 72 hours")
	}
	secret, k := r.newKey(defects.LinkKey, "", "sign-in link", ttl)
	err = r.Store.Write(ctx, func(tx Tx) error {
		acc, err := accountByLogin(ctx, tx, login)
		if err != nil {
			return err
		}
		if acc.Disabled {
			return defects.RefuseField(defects.Conflict, "login", "account_disabled", "this account is disabled")
		}
		k.AccountID = acc.ID
		return r.insertKey(ctx, tx, a, k)
	})
	if err != nil {
		return "", err
	}
	return secret, nil
}

// UseLink signs in by a one-time link. A new password, when given, replaces the
// old one and ends all other sessions; "" keeps it. The link, and every other
// one of the account, is over then.
func (r *Register) UseLink(ctx context.Context, secret, newPassword, device string) (session string, a defects.Account, err error) {
	check := func(tx Tx) (k defects.Key, acc defects.Account, err error) {
		if k, err = r.keyOf(ctx, tx, secret, defects.LinkKey); err != nil {
			return k, acc, err
		}
		acc, err = tx.People().Account(ctx, k.AccountID)
		if notFound(err) || (err == nil && acc.Disabled) {
			return k, acc, errKey(defects.LinkKey)
		}
		return k, acc, err
	}
	if err := r.Store.Read(ctx, func(tx Tx) error { _, _, err := check(tx); return err }); err != nil {
		return "", a, err
	}
	hash := ""
	if newPassword != "" {
		if hash, err = r.hashPassword(ctx, "password", newPassword); err != nil {
			return "", a, err
		}
	}
	session, k := r.newKey(defects.SessionKey, "", cleanDevice(device), SessionMost)
	err = r.Store.Write(ctx, func(tx Tx) error {
		link, acc, err := check(tx)
		if err != nil {
			return err
		}
		a, k.AccountID = acc, acc.ID
		return r.signInByLink(ctx, tx, actorOf(acc, device), acc, link, k, hash)
	})
	if err != nil {
		return "", defects.Account{}, err
	}
	return session, public(a), nil
}

func (r *Register) signInByLink(ctx context.Context, tx Tx, by Actor, acc defects.Account, link, session defects.Key, hash string) error {
	if err := r.revokeKey(ctx, tx, by, link); err != nil {
		return err
	}
	if err := r.revokeAll(ctx, tx, acc.ID, "", defects.LinkKey); err != nil {
		return err
	}
	if hash != "" {
		if err := r.replacePassword(ctx, tx, by, acc, hash, ""); err != nil {
			return err
		}
	}
	return r.insertKey(ctx, tx, by, session)
}

// ChangePassword replaces the actor's password and ends his other sessions and
// links. Tokens of programs go on; RevokeKey ends them.
func (r *Register) ChangePassword(ctx context.Context, a Actor, old, new string) error {
	if err := signedIn(a); err != nil {
		return err
	}
	var acc defects.Account
	err := r.Store.Read(ctx, func(tx Tx) (err error) {
		acc, err = tx.People().Account(ctx, a.AccountID)
		return err
	})
	if err != nil {
		return err
	}
	ok, err := r.verifyPassword(ctx, old, acc.PasswordHash)
	if err != nil {
		return err
	}
	if !ok {
		return defects.RefuseField(defects.Forbidden, "old_password", "wrong_password", "is not your present password")
	}
	hash, err := r.hashPassword(ctx, "new_password", new)
	if err != nil {
		return err
	}
	return r.Store.Write(ctx, func(tx Tx) error { return r.replacePassword(ctx, tx, a, acc, hash, a.KeyID) })
}

// replacePassword stores a new hash, guarded by the version that was read, and
// ends all sessions and links but one.
func (r *Register) replacePassword(ctx context.Context, tx Tx, by Actor, acc defects.Account, hash, but string) error {
	after := acc
	after.PasswordHash = hash
	if err := r.updateAccount(ctx, tx, by, "account.password", acc, after); err != nil {
		return err
	}
	return r.revokeAll(ctx, tx, acc.ID, but, defects.SessionKey, defects.LinkKey)
}

func actorOf(a defects.Account, device string) Actor {
	return Actor{AccountID: a.ID, Name: a.Name, Admin: a.Admin, Device: cleanDevice(device)}
}

// cleanDevice makes what a device calls itself fit to be kept: it is a remark,
// so it is cut rather than refused.
func cleanDevice(s string) string {
	out := make([]rune, 0, maxName)
	for _, c := range s {
		if len(out) == maxName {
			break
		}
		if c >= ' ' && c != 0x7f && c != 0xfffd && !hidden(c) && !(c >= 0x80 && c < 0xa0) {
			out = append(out, c)
		}
	}
	return string(out)
}
