package models

import (
	"context"
	"time"

	"storeyrod/defects"
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

// A claim is told by its time as well, so that a request that took too long
// cannot touch the claim of the one that took its place.
func (p replies) AnswerReply(ctx context.Context, r register.Reply) (err error) {
	defer wrap("answer reply", &err)
	n, err := exec(ctx, p.tx, sqlText(`UPDATE replies SET status = ?, content_type = ?, location = ?, etag = ?, body = ?
		WHERE account_id = ? AND key = ? AND at = ? AND status = 0`,
		r.Status, r.ContentType, r.Location, r.ETag, notNil(r.Body), r.AccountID, r.Key, micros(r.At)))
	if err == nil && n == 0 {
		return defects.Refuse(defects.Stale, "claim_over", "the claim on this key is over")
	}
	return err
}

func (p replies) DeleteReply(ctx context.Context, r register.Reply) (err error) {
	defer wrap("delete reply", &err)
	_, err = exec(ctx, p.tx, sqlText("DELETE FROM replies WHERE account_id = ? AND key = ? AND at = ? AND status = 0",
		r.AccountID, r.Key, micros(r.At)))
	return err
}

func (p replies) DeleteRepliesBefore(ctx context.Context, before time.Time) (_ int, err error) {
	defer wrap("delete old replies", &err)
	n, err := exec(ctx, p.tx, sqlText("DELETE FROM replies WHERE at < ?", micros(before)))
	return int(n), err
}
