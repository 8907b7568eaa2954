package register

import (
	"context"
)

// Recall gives the stored answer to a request with an Idempotency-Key, nil
// when the key is new. Another request under a used key answers Conflict
// idempotency_key_reused.
func (r *Register) Recall(ctx context.Context, a Actor, key, fingerprint string) (*Reply, error) {
	return nil, errUnfinished
}

// Remember stores the answer to a request with an Idempotency-Key.
func (r *Register) Remember(ctx context.Context, reply Reply) error { return errUnfinished }
