package register

import (
	"context"
	"time"

	"storeyrod/defects"
)

// NewAccount is what an account is made from.
type NewAccount struct {
	Login    string
	Name     string
	Password string // "" = can sign in by a one-time link only
	Admin    bool
}

func (r *Register) CreateAccount(ctx context.Context, a Actor, n NewAccount) (defects.Account, error) {
	return defects.Account{}, errNotYet
}

func (r *Register) Accounts(ctx context.Context, a Actor) ([]defects.Account, error) {
	return nil, errNotYet
}

func (r *Register) SetRole(ctx context.Context, a Actor, siteID, login string, role defects.Role, gang string) error {
	return errNotYet
}

func (r *Register) Members(ctx context.Context, a Actor, siteID string) ([]defects.Membership, error) {
	return nil, errNotYet
}

var errNotYet = defects.Refuse(defects.Unavailable, "", "not there yet")

func System(device string) Actor {
	return Actor{AccountID: "system", Name: "operator", Admin: true, Device: device}
}

var _ time.Time
