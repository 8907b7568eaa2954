package register

import (
	"context"
	"time"

	"storeyrod/defects"
)

func (r *Register) SetupNeeded(ctx context.Context) (bool, error) { return false, errNotYet }
func (r *Register) CreateSetupLink(ctx context.Context) (secret string, err error) {
	return "", errNotYet
}
func (r *Register) CompleteSetup(ctx context.Context, secret string, n NewAccount, device string) (session string, a defects.Account, err error) {
	return "", a, errNotYet
}
func (r *Register) SignIn(ctx context.Context, login, password, device string) (session string, a defects.Account, err error) {
	return "", a, errNotYet
}
func (r *Register) UseLink(ctx context.Context, secret, newPassword, device string) (session string, a defects.Account, err error) {
	return "", a, errNotYet
}
func (r *Register) Authenticate(ctx context.Context, secret string, kind defects.KeyKind) (Actor, defects.Key, error) {
	return Actor{}, defects.Key{}, errNotYet
}
func (r *Register) SignOut(ctx context.Context, keyID string, a Actor) error { return errNotYet }
func (r *Register) ChangePassword(ctx context.Context, a Actor, old, new string) error {
	return errNotYet
}
func (r *Register) CreateLink(ctx context.Context, a Actor, login string, ttl time.Duration) (secret string, err error) {
	return "", errNotYet
}
func (r *Register) CreateToken(ctx context.Context, a Actor, label string, ttl time.Duration) (secret string, k defects.Key, err error) {
	return "", k, errNotYet
}
func (r *Register) Keys(ctx context.Context, a Actor) ([]defects.Key, error)   { return nil, errNotYet }
func (r *Register) RevokeKey(ctx context.Context, a Actor, keyID string) error { return errNotYet }
