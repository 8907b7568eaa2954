package register

import (
	"time"

	"storeyrod/defects"
)

// changed is the data of an event that makes, changes or takes away one row:
// the row before, and the row after. A row's state is After of its last event.
type changed[T any] struct {
	Before *T `json:"before,omitempty"`
	After  *T `json:"after,omitempty"`
}

// accountData is an account as the log keeps it. The password hash is no
// record and stays out; Password says whether there is one.
type accountData struct {
	ID       string `json:"id"`
	Login    string `json:"login"`
	Name     string `json:"name"`
	Password bool   `json:"password"`
	Admin    bool   `json:"admin"`
	Disabled bool   `json:"disabled"`
	Version  int    `json:"version"`
}

func accountEvent(before, after *defects.Account) changed[accountData] {
	return changed[accountData]{Before: accountOf(before), After: accountOf(after)}
}

func accountOf(a *defects.Account) *accountData {
	if a == nil {
		return nil
	}
	return &accountData{
		ID: a.ID, Login: a.Login, Name: a.Name, Password: a.PasswordHash != "",
		Admin: a.Admin, Disabled: a.Disabled, Version: a.Version,
	}
}

// keyData is a session, token or link as the log keeps it, without its hash.
type keyData struct {
	ID      string `json:"id"`
	Account string `json:"account"` // "" = the first set-up
	Kind    string `json:"kind"`
	Label   string `json:"label"`
	Expires string `json:"expires"` // RFC 3339
	Ended   bool   `json:"ended"`
}

func keyEvent(k defects.Key) keyData {
	return keyData{
		ID: k.ID, Account: k.AccountID, Kind: string(k.Kind), Label: k.Label,
		Expires: k.ExpiresAt.UTC().Format(time.RFC3339Nano), Ended: k.Revoked,
	}
}

// memberData is a role on a site.
type memberData struct {
	Account string `json:"account"`
	Login   string `json:"login"`
	Name    string `json:"name"`
	Role    string `json:"role"` // "" = none any more
	Gang    string `json:"gang"`
}

func memberEvent(before, after defects.Membership) changed[memberData] {
	out := changed[memberData]{After: memberOf(after)}
	if before.AccountID != "" {
		out.Before = memberOf(before)
	}
	return out
}

func memberOf(m defects.Membership) *memberData {
	return &memberData{Account: m.AccountID, Login: m.Login, Name: m.Name, Role: string(m.Role), Gang: m.Gang}
}
