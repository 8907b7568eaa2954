package register

import (
	"context"
	"errors"
	"fmt"
	"time"

	"storeyrod/defects"
)

// replyLife is how long an answer is remembered under its Idempotency-Key.
const replyLife = 24 * time.Hour

// maxReplyKey bounds a key, in bytes.
const maxReplyKey = 200

// Recall gives the stored answer to a request with an Idempotency-Key, nil when
// the key is new or older than a day. Another request under a used key answers
// Conflict idempotency_key_reused.
func (r *Register) Recall(ctx context.Context, a Actor, key, fingerprint string) (*Reply, error) {
	if key == "" || len(key) > maxReplyKey {
		return nil, defects.RefuseField(defects.Invalid, "Idempotency-Key", "bad_idempotency_key",
			fmt.Sprintf("must have 1 to %d characters", maxReplyKey))
	}
	var reply Reply
	err := r.Store.Read(ctx, func(tx Tx) (err error) {
		reply, err = tx.Replies().Reply(ctx, a.AccountID, key)
		return err
	})
	switch {
	case errors.Is(err, defects.NotFound):
		return nil, nil
	case err != nil:
		return nil, err
	case r.Now().Sub(reply.At) > replyLife:
		return nil, nil
	case reply.Fingerprint != fingerprint:
		return nil, defects.RefuseField(defects.Conflict, "Idempotency-Key", "idempotency_key_reused",
			"this key was used for another request; take a new one")
	}
	return &reply, nil
}

// Remember stores the answer to a request with an Idempotency-Key, and forgets
// those older than a day.
func (r *Register) Remember(ctx context.Context, reply Reply) error {
	if reply.At.IsZero() {
		reply.At = r.Now()
	}
	return r.Store.Write(ctx, func(tx Tx) error {
		if _, err := tx.Replies().DeleteRepliesBefore(ctx, reply.At.Add(-replyLife)); err != nil {
			return err
		}
		return tx.Replies().SaveReply(ctx, reply)
	})
}
