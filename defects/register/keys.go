package register

import (
	"context"
	"crypto/subtle"
	"errors"
	"fmt"
	"slices"
	"time"

	"storeyrod/defects"
)

// How long keys live.
const (
	SessionIdle = 14 * 24 * time.Hour  // a session ends this long after its last use
	SessionMost = 90 * 24 * time.Hour  // and this long after sign-in at the latest
	TokenMost   = 365 * 24 * time.Hour // longest life of a token
	LinkMost    = 72 * time.Hour       // longest life of a one-time link

	touchEvery = 5 * time.Minute // how exactly the last use of a key is kept
)

// Authenticate tells who holds the secret of a session or token. Whatever is
// wrong with it – unknown, ended, expired, account disabled – the answer is the
// same Unauthenticated. The actor's device is the key's label.
func (r *Register) Authenticate(ctx context.Context, secret string, kind defects.KeyKind) (Actor, defects.Key, error) {
	var k defects.Key
	var acc defects.Account
	err := r.Store.Read(ctx, func(tx Tx) (err error) {
		if k, err = r.keyOf(ctx, tx, secret, kind); err != nil {
			return err
		}
		if acc, err = tx.People().Account(ctx, k.AccountID); notFound(err) || (err == nil && acc.Disabled) {
			return errKey(kind)
		}
		return err
	})
	if err != nil {
		return Actor{}, defects.Key{}, err
	}
	now := r.Now()
	if now.Sub(k.LastSeen) >= touchEvery {
		// Not a logged change: it moves no right and no record, it only keeps a
		// session in use alive.
		if err := r.Store.Write(ctx, func(tx Tx) error { return tx.Keys().TouchKey(ctx, k.ID, now) }); err != nil {
			return Actor{}, defects.Key{}, fmt.Errorf("keep key alive: %w", err)
		}
		k.LastSeen = now
	}
	k.Hash = ""
	return Actor{AccountID: acc.ID, Name: acc.Name, Admin: acc.Admin, Device: k.Label, KeyID: k.ID}, k, nil
}

// keyOf finds a key that can be used now.
func (r *Register) keyOf(ctx context.Context, tx Tx, secret string, kind defects.KeyKind) (defects.Key, error) {
	hash := hashSecret(secret)
	k, err := tx.Keys().KeyByHash(ctx, hash)
	if notFound(err) {
		return k, errKey(kind)
	}
	if err != nil {
		return k, err
	}
	same := subtle.ConstantTimeCompare([]byte(k.Hash), []byte(hash)) == 1
	if !same || k.Kind != kind || !keyUsable(k, r.Now()) {
		return k, errKey(kind)
	}
	return k, nil
}

// keyUsable reports whether a key is neither ended nor expired.
func keyUsable(k defects.Key, now time.Time) bool {
	if k.Revoked || !now.Before(k.ExpiresAt) {
		return false
	}
	return k.Kind != defects.SessionKey || now.Before(k.LastSeen.Add(SessionIdle))
}

func errKey(kind defects.KeyKind) error {
	switch kind {
	case defects.LinkKey:
		return defects.Refuse(defects.Unauthenticated, "link_over", "this link was used, has expired, or never was; ask for a new one")
	case defects.TokenKey:
		return defects.Refuse(defects.Unauthenticated, "bad_token", "this token is not known, has expired or was ended")
	}
	return defects.Refuse(defects.Unauthenticated, "", "sign in first")
}

// insertKey stores and logs a new key; the secret itself is kept nowhere.
func (r *Register) insertKey(ctx context.Context, tx Tx, a Actor, k defects.Key) error {
	if err := tx.Keys().InsertKey(ctx, k); err != nil {
		return err
	}
	return r.noteInstance(ctx, tx, a, change{kind: string(k.Kind) + ".add", typ: "key", id: k.ID, data: keyEvent(k)})
}

// newKey makes a key with its secret.
func (r *Register) newKey(kind defects.KeyKind, accountID, label string, life time.Duration) (string, defects.Key) {
	secret, now := r.Secret(), r.Now()
	return secret, defects.Key{
		ID: r.NewID(), Hash: hashSecret(secret), AccountID: accountID, Kind: kind, Label: label,
		CreatedAt: now, ExpiresAt: now.Add(life), LastSeen: now,
	}
}

// SignOut ends the session or token the actor came with.
func (r *Register) SignOut(ctx context.Context, keyID string, a Actor) error {
	return r.RevokeKey(ctx, a, keyID)
}

// Keys lists what the actor's account can be reached by: sessions, tokens and
// links that still work, the newest first, without their hashes.
func (r *Register) Keys(ctx context.Context, a Actor) ([]defects.Key, error) {
	if err := signedIn(a); err != nil {
		return nil, err
	}
	var list []defects.Key
	err := r.Store.Read(ctx, func(tx Tx) (err error) {
		list, err = tx.Keys().KeysOf(ctx, a.AccountID)
		return err
	})
	now := r.Now()
	list = slices.DeleteFunc(list, func(k defects.Key) bool { return !keyUsable(k, now) })
	for i := range list {
		list[i].Hash = ""
	}
	slices.SortStableFunc(list, func(x, y defects.Key) int { return y.CreatedAt.Compare(x.CreatedAt) })
	return list, err
}

// RevokeKey ends one of the actor's own keys; an admin ends anybody's. A key of
// somebody else is not found.
func (r *Register) RevokeKey(ctx context.Context, a Actor, keyID string) error {
	if err := signedIn(a); err != nil {
		return err
	}
	return r.Store.Write(ctx, func(tx Tx) error {
		owners := []string{a.AccountID}
		if a.Admin {
			all, err := tx.People().Accounts(ctx)
			if err != nil {
				return err
			}
			for _, acc := range all {
				owners = append(owners, acc.ID)
			}
		}
		for _, owner := range owners {
			keys, err := tx.Keys().KeysOf(ctx, owner)
			if err != nil {
				return err
			}
			if i := slices.IndexFunc(keys, func(k defects.Key) bool { return k.ID == keyID }); i >= 0 {
				return r.revokeKey(ctx, tx, a, keys[i])
			}
		}
		return defects.RefuseField(defects.NotFound, "key", "key_not_found", "you hold no such session or token")
	})
}

func (r *Register) revokeKey(ctx context.Context, tx Tx, a Actor, k defects.Key) error {
	if k.Revoked {
		return nil
	}
	if err := tx.Keys().RevokeKey(ctx, k.ID); err != nil {
		return err
	}
	k.Revoked = true
	return r.noteInstance(ctx, tx, a, change{kind: string(k.Kind) + ".end", typ: "key", id: k.ID, data: keyEvent(k)})
}

// revokeAll ends an account's keys of the given kinds, all but one. The change
// that causes it is what the log keeps.
func (r *Register) revokeAll(ctx context.Context, tx Tx, accountID, but string, kinds ...defects.KeyKind) error {
	keys, err := tx.Keys().KeysOf(ctx, accountID)
	if err != nil {
		return err
	}
	for _, k := range keys {
		if k.Revoked || k.ID == but || !slices.Contains(kinds, k.Kind) {
			continue
		}
		if err := tx.Keys().RevokeKey(ctx, k.ID); err != nil {
			return err
		}
	}
	return nil
}

// CreateToken makes a bearer token for a program that acts as the actor. The
// secret is shown this once.
func (r *Register) CreateToken(ctx context.Context, a Actor, label string, ttl time.Duration) (secret string, k defects.Key, err error) {
	if err := signedIn(a); err != nil {
		return "", k, err
	}
	if a.AccountID == SystemID {
		return "", k, defects.Refuse(defects.Forbidden, "no_account", "a token belongs to an account; name one")
	}
	return r.createToken(ctx, a, label, ttl, func(tx Tx) (defects.Account, error) {
		return tx.People().Account(ctx, a.AccountID)
	})
}

// CreateTokenFor makes a token for another account. Admins only.
func (r *Register) CreateTokenFor(ctx context.Context, a Actor, login, label string, ttl time.Duration) (secret string, k defects.Key, err error) {
	if err := admin(a); err != nil {
		return "", k, err
	}
	return r.createToken(ctx, a, label, ttl, func(tx Tx) (defects.Account, error) {
		return accountByLogin(ctx, tx, login)
	})
}

func (r *Register) createToken(ctx context.Context, a Actor, label string, ttl time.Duration, find func(Tx) (defects.Account, error)) (string, defects.Key, error) {
	label, err := cleanName("label", label)
	if err != nil {
		return "", defects.Key{}, err
	}
	if ttl <= 0 || ttl > TokenMost {
		return "", defects.Key{}, defects.RefuseField(defects.Invalid, "ttl", "bad_ttl", "a token lives for at most a year")
	}
	secret, k := r.newKey(defects.TokenKey, "", label, ttl)
	err = r.Store.Write(ctx, func(tx Tx) error {
		acc, err := find(tx)
		if err != nil {
			return err
		}
		k.AccountID = acc.ID
		return r.insertKey(ctx, tx, a, k)
	})
	if err != nil {
		return "", defects.Key{}, err
	}
	k.Hash = ""
	return secret, k, nil
}

// SweepKeys deletes keys that expired more than a day ago and answers how many.
// It is no logged change: when a key ends is in the log since it was made.
func (r *Register) SweepKeys(ctx context.Context) (n int, err error) {
	err = r.Store.Write(ctx, func(tx Tx) error {
		n, err = tx.Keys().DeleteKeysExpired(ctx, r.Now().Add(-24*time.Hour))
		return err
	})
	return n, err
}

func notFound(err error) bool { return errors.Is(err, defects.NotFound) }
