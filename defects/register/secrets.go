package register

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"sync"
	"unicode/utf8"

	"storeyrod/defects"
)

const (
	minPassword = 12  // characters
	maxPassword = 200 // characters; more would only make hashing slow
	hashAtOnce  = 2   // password hashes worked on together: each takes tens of megabytes
	hashWaiting = 32  // more that may wait for their turn; the rest is told to come again
)

// hashSecret is how a session, token or link is stored. A plain hash is enough
// since the secret itself is 256 random bits.
func hashSecret(secret string) string {
	sum := sha256.Sum256([]byte(secret))
	return hex.EncodeToString(sum[:])
}

// passwords hashes and verifies, a few at a time.
type passwords struct {
	once  sync.Once
	dummy string
	err   error
	slots chan struct{}
	queue chan struct{} // those at work and those that wait
}

func newPasswords() *passwords {
	return &passwords{slots: make(chan struct{}, hashAtOnce), queue: make(chan struct{}, hashAtOnce+hashWaiting)}
}

// wait takes a slot; the answer gives it back. A queue that is full refuses at
// once with TooMany, so that a burst of sign-ins cannot pile up.
func (p *passwords) wait(ctx context.Context) (release func(), err error) {
	select {
	case p.queue <- struct{}{}:
	default:
		return nil, defects.Refuse(defects.TooMany, "too_busy", "many people are signing in just now; try again in a moment")
	}
	defer func() {
		if err != nil {
			<-p.queue
		}
	}()
	select {
	case p.slots <- struct{}{}:
		return func() { <-p.slots; <-p.queue }, nil
	case <-ctx.Done():
		return nil, fmt.Errorf("wait to hash a password: %w", ctx.Err())
	}
}

// hashPassword checks a new password's length and hashes it.
func (r *Register) hashPassword(ctx context.Context, field, password string) (string, error) {
	if n := utf8.RuneCountInString(password); n < minPassword || n > maxPassword {
		return "", defects.RefuseField(defects.Invalid, field, "bad_password",
			fmt.Sprintf("a password has %d to %d characters", minPassword, maxPassword))
	}
	release, err := r.passwords.wait(ctx)
	if err != nil {
		return "", err
	}
	defer release()
	hash, err := r.Hash(password)
	if err != nil {
		return "", fmt.Errorf("hash password: %w", err)
	}
	return hash, nil
}

// verifyPassword compares. With an empty hash it does the same work against a
// hash that no password has, so that the time taken does not tell whether a
// login exists.
func (r *Register) verifyPassword(ctx context.Context, password, hash string) (bool, error) {
	release, err := r.passwords.wait(ctx)
	if err != nil {
		return false, err
	}
	defer release()
	dummy, err := r.dummyHash()
	if err != nil {
		return false, err
	}
	usable := hash != "" && utf8.RuneCountInString(password) <= maxPassword
	if !usable {
		hash, password = dummy, ""
	}
	ok, err := r.Verify(password, hash)
	if err != nil {
		return false, fmt.Errorf("verify password: %w", err)
	}
	return ok && usable, nil
}

// dummyHash is made on the first sign-in, whoever that is.
func (r *Register) dummyHash() (string, error) {
	p := r.passwords
	p.once.Do(func() { p.dummy, p.err = r.Hash("no account has this password") })
	if p.err != nil {
		return "", fmt.Errorf("hash the stand-in password: %w", p.err)
	}
	return p.dummy, nil
}
