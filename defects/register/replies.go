package register

import (
	"context"
	"errors"
	"fmt"
	"time"

	"storeyrod/defects"
)

const (
	// replyLife is how long an answer is remembered under its Idempotency-Key.
	replyLife = 24 * time.Hour
	// claimLife is how long a request may take before another may take its key.
	claimLife = 2 * time.Minute
	// maxReplyKey bounds a key, in bytes.
	maxReplyKey = 200
)

// Claim takes an Idempotency-Key for a request that is about to run. It answers
// the stored answer, when the same request was answered within a day, or else
// the claim, with Status 0, to be given to Answer or Release. Another request
// under a used key answers Conflict idempotency_key_reused; one that is still
// running, on this server or another, Conflict idempotency_in_progress.
//
// What remains: a server that dies after the write and before Answer leaves a
// claim without an answer. It blocks its key for two minutes; after that the
// same request may run under it, and then it runs a second time. The same holds
// for a request that takes longer than two minutes.
func (r *Register) Claim(ctx context.Context, a Actor, key, fingerprint string) (Reply, error) {
	if key == "" || len(key) > maxReplyKey {
		return Reply{}, defects.RefuseField(defects.Invalid, "Idempotency-Key", "bad_idempotency_key",
			fmt.Sprintf("must have 1 to %d characters", maxReplyKey))
	}
	now := r.Now().Truncate(time.Microsecond) // as the store keeps it: it tells the claim
	claim := Reply{AccountID: a.AccountID, Key: key, Fingerprint: fingerprint, At: now}
	var known Reply
	ours := false
	err := r.Store.Write(ctx, func(tx Tx) (err error) {
		known, ours, err = takeKey(ctx, tx, claim)
		return err
	})
	switch {
	case errors.Is(err, defects.Conflict): // another server was faster
		return Reply{}, inProgress()
	case err != nil:
		return Reply{}, err
	case ours:
		return claim, nil
	case known.Fingerprint != fingerprint:
		return Reply{}, defects.RefuseField(defects.Conflict, "Idempotency-Key", "idempotency_key_reused",
			"this key was used for another request; take a new one")
	case known.Status == 0:
		return Reply{}, inProgress()
	}
	return known, nil
}

// takeKey stores the claim, or answers what stands under its key.
func takeKey(ctx context.Context, tx Tx, claim Reply) (known Reply, ours bool, err error) {
	if _, err := tx.Replies().DeleteRepliesBefore(ctx, claim.At.Add(-replyLife)); err != nil {
		return Reply{}, false, err
	}
	known, err = tx.Replies().Reply(ctx, claim.AccountID, claim.Key)
	if err != nil && !notFound(err) {
		return Reply{}, false, err
	}
	if err == nil {
		over := known.Status == 0 && known.Fingerprint == claim.Fingerprint && claim.At.Sub(known.At) >= claimLife
		if !over {
			return known, false, nil
		}
		if err := tx.Replies().DeleteReply(ctx, known); err != nil {
			return Reply{}, false, err
		}
	}
	return claim, true, tx.Replies().SaveReply(ctx, claim)
}

func inProgress() error {
	return defects.RefuseField(defects.Conflict, "Idempotency-Key", "idempotency_in_progress",
		"the request with this key is still running; ask again shortly")
}

// Answer stores what a claimed request was answered. When the claim is over,
// since the request took too long, nothing is stored.
func (r *Register) Answer(ctx context.Context, reply Reply) error {
	err := r.Store.Write(ctx, func(tx Tx) error { return tx.Replies().AnswerReply(ctx, reply) })
	if errors.Is(err, defects.Stale) {
		return nil
	}
	return err
}

// Release gives a claimed key back, so that it can be used again.
func (r *Register) Release(ctx context.Context, claim Reply) error {
	return r.Store.Write(ctx, func(tx Tx) error { return tx.Replies().DeleteReply(ctx, claim) })
}
