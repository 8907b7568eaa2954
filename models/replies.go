package models

import (
	"context"
	"time"

	"storeyrod/defects/register"
)

type replyRow struct {
	AccountID   string `gorm:"primaryKey"`
	Key         string `gorm:"primaryKey"`
	Fingerprint string
	Status      int
	ContentType string
	Location    string
	ETag        string `gorm:"column:etag"`
	Body        []byte
	At          int64
}

func (replyRow) TableName() string { return "replies" }

// replies implements register.Replies.
type replies struct{ *tx }

func (p replies) SaveReply(ctx context.Context, r register.Reply) (err error) {
	defer wrap("save reply", &err)
	return insert(ctx, p.tx, replyRow{
		AccountID: r.AccountID, Key: r.Key, Fingerprint: r.Fingerprint, Status: r.Status,
		ContentType: r.ContentType, Location: r.Location, ETag: r.ETag, Body: notNil(r.Body), At: micros(r.At),
	})
}

func (p replies) Reply(ctx context.Context, accountID, key string) (_ register.Reply, err error) {
	defer wrap("reply", &err)
	q := from[replyRow](p.tx)
	q.add(" WHERE account_id = ? AND key = ?", accountID, key)
	r, err := one[replyRow](ctx, p.tx, "reply", q)
	if err != nil {
		return register.Reply{}, err
	}
	return register.Reply{
		AccountID: r.AccountID, Key: r.Key, Fingerprint: r.Fingerprint, Status: r.Status,
		ContentType: r.ContentType, Location: r.Location, ETag: r.ETag, Body: r.Body, At: instant(r.At),
	}, nil
}

func (p replies) DeleteRepliesBefore(ctx context.Context, before time.Time) (_ int, err error) {
	defer wrap("delete old replies", &err)
	n, err := exec(ctx, p.tx, sqlText("DELETE FROM replies WHERE at < ?", micros(before)))
	return int(n), err
}
