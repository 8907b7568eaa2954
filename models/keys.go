package models

import (
	"context"
	"time"

	"storeyrod/defects"
)

type keyRow struct {
	ID        string `gorm:"primaryKey"`
	Hash      string
	AccountID *string // NULL: the link of the first set-up, before any account
	Kind      string
	Label     string
	Created   int64 `gorm:"column:created_at"`
	ExpiresAt int64
	LastSeen  int64
	Revoked   bool
}

func (keyRow) TableName() string { return "keys" }

func toKeyRow(k defects.Key) keyRow {
	return keyRow{
		ID: k.ID, Hash: k.Hash, AccountID: optText(k.AccountID), Kind: string(k.Kind), Label: k.Label,
		Created: micros(k.CreatedAt), ExpiresAt: micros(k.ExpiresAt), LastSeen: micros(k.LastSeen), Revoked: k.Revoked,
	}
}

func (r keyRow) key() (defects.Key, error) {
	return defects.Key{
		ID: r.ID, Hash: r.Hash, AccountID: textOf(r.AccountID), Kind: defects.KeyKind(r.Kind), Label: r.Label,
		CreatedAt: instant(r.Created), ExpiresAt: instant(r.ExpiresAt), LastSeen: instant(r.LastSeen), Revoked: r.Revoked,
	}, nil
}

// keys implements register.Keys.
type keys struct{ *tx }

func (k keys) InsertKey(ctx context.Context, key defects.Key) (err error) {
	defer wrap("insert key", &err)
	return insert(ctx, k.tx, toKeyRow(key))
}

// KeyByHash locks the row in a writing transaction, so that of two uses of a
// one-time link the second sees what the first did.
func (k keys) KeyByHash(ctx context.Context, hash string) (_ defects.Key, err error) {
	defer wrap("key by hash", &err)
	q := from[keyRow](k.tx)
	q.add(" WHERE hash = ?"+k.lockRow(), hash)
	r, err := one[keyRow](ctx, k.tx, "key", q)
	if err != nil {
		return defects.Key{}, err
	}
	return r.key()
}

func (k keys) KeysOf(ctx context.Context, accountID string) (_ []defects.Key, err error) {
	defer wrap("keys of account", &err)
	q := from[keyRow](k.tx)
	q.add(" WHERE account_id = ? ORDER BY created_at DESC, id DESC", accountID)
	rows, err := list[keyRow](ctx, k.tx, q)
	if err != nil {
		return nil, err
	}
	return convert(rows, keyRow.key)
}

func (k keys) TouchKey(ctx context.Context, id string, seen time.Time) (err error) {
	defer wrap("touch key", &err)
	return k.mustChange(ctx, sqlText("UPDATE keys SET last_seen = ? WHERE id = ?", micros(seen), id))
}

func (k keys) RevokeKey(ctx context.Context, id string) (err error) {
	defer wrap("revoke key", &err)
	return k.mustChange(ctx, sqlText("UPDATE keys SET revoked = ? WHERE id = ?", true, id))
}

func (k keys) mustChange(ctx context.Context, q *query) error {
	n, err := exec(ctx, k.tx, q)
	if err == nil && n == 0 {
		return notFound("key")
	}
	return err
}

func (k keys) RevokeKeysOf(ctx context.Context, accountID string, kind defects.KeyKind) (err error) {
	defer wrap("revoke keys of account", &err)
	q := sqlText("UPDATE keys SET revoked = ? WHERE kind = ?", true, string(kind))
	if accountID == "" { // stored as NULL, which equals nothing
		q.add(" AND account_id IS NULL")
	} else {
		q.add(" AND account_id = ?", accountID)
	}
	_, err = exec(ctx, k.tx, q)
	return err
}

func (k keys) DeleteKeysExpired(ctx context.Context, before time.Time) (_ int, err error) {
	defer wrap("delete expired keys", &err)
	n, err := exec(ctx, k.tx, sqlText("DELETE FROM keys WHERE expires_at < ?", micros(before)))
	return int(n), err
}
