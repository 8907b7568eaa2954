package register

import (
	"context"
	"fmt"
	"strings"

	"storeyrod/defects"
)

// SystemID is the account id of the operator at the command line. No stored
// account has it.
const SystemID = "system"

// InstanceLog is the site id under which changes that belong to no site are
// logged: accounts, keys and sign-ins.
const InstanceLog = "instance"

// NewAccount is what an account is made from.
type NewAccount struct {
	Login    string // lower case letters, digits and . _ + @ -
	Name     string
	Password string // "" = can sign in by a one-time link only
	Admin    bool
}

// System is the operator at the command line: he may do what an admin may, and
// acts on every site as its manager. The log says "system".
func System(device string) Actor {
	return Actor{AccountID: SystemID, Name: "operator", Admin: true, Device: device}
}

// CreateAccount makes an account. Admins only. A taken login answers Conflict
// "login_taken".
func (r *Register) CreateAccount(ctx context.Context, a Actor, n NewAccount) (defects.Account, error) {
	if err := admin(a); err != nil {
		return defects.Account{}, err
	}
	acc, err := r.newAccount(ctx, n)
	if err != nil {
		return defects.Account{}, err
	}
	err = r.Store.Write(ctx, func(tx Tx) error { return r.insertAccount(ctx, tx, a, acc) })
	return public(acc), err
}

// newAccount validates and hashes. It runs before any transaction, since
// hashing takes long on purpose.
func (r *Register) newAccount(ctx context.Context, n NewAccount) (defects.Account, error) {
	login, err := cleanLogin(n.Login)
	if err != nil {
		return defects.Account{}, err
	}
	name, err := cleanName("name", n.Name)
	if err != nil {
		return defects.Account{}, err
	}
	hash := ""
	if n.Password != "" {
		if hash, err = r.hashPassword(ctx, "password", n.Password); err != nil {
			return defects.Account{}, err
		}
	}
	return defects.Account{
		ID: r.NewID(), Login: login, Name: name, PasswordHash: hash, Admin: n.Admin,
		CreatedAt: r.Now(), Version: 1,
	}, nil
}

func (r *Register) insertAccount(ctx context.Context, tx Tx, a Actor, acc defects.Account) error {
	switch _, err := tx.People().AccountByLogin(ctx, acc.Login); {
	case err == nil:
		return defects.RefuseField(defects.Conflict, "login", "login_taken", "there is an account with this login already")
	case !notFound(err):
		return err
	}
	if err := tx.People().InsertAccount(ctx, acc); err != nil {
		return err
	}
	return r.noteInstance(ctx, tx, a, change{kind: "account.add", typ: "account", id: acc.ID, data: accountEvent(nil, &acc)})
}

// Accounts lists all accounts without their password hashes. Admins only.
func (r *Register) Accounts(ctx context.Context, a Actor) ([]defects.Account, error) {
	if err := admin(a); err != nil {
		return nil, err
	}
	var list []defects.Account
	err := r.Store.Read(ctx, func(tx Tx) (err error) {
		list, err = tx.People().Accounts(ctx)
		return err
	})
	for i := range list {
		list[i] = public(list[i])
	}
	return list, err
}

// SetDisabled locks an account out and ends all it holds, or lets it in again.
// Admins only; nobody locks himself out.
func (r *Register) SetDisabled(ctx context.Context, a Actor, login string, disabled bool) error {
	if err := admin(a); err != nil {
		return err
	}
	return r.Store.Write(ctx, func(tx Tx) error {
		acc, err := accountByLogin(ctx, tx, login)
		if err != nil {
			return err
		}
		if acc.ID == a.AccountID {
			return defects.Refuse(defects.Forbidden, "own_account", "nobody disables his own account")
		}
		if acc.Disabled == disabled {
			return nil
		}
		before := acc
		acc.Disabled = disabled
		if err := r.updateAccount(ctx, tx, a, "account.update", before, acc); err != nil || !disabled {
			return err
		}
		return r.revokeAll(ctx, tx, acc.ID, "", defects.SessionKey, defects.TokenKey, defects.LinkKey)
	})
}

// updateAccount stores and logs a changed account.
func (r *Register) updateAccount(ctx context.Context, tx Tx, a Actor, kind string, before, after defects.Account) error {
	if err := tx.People().UpdateAccount(ctx, after); err != nil {
		return err
	}
	after.Version++
	return r.noteInstance(ctx, tx, a, change{kind: kind, typ: "account", id: after.ID, data: accountEvent(&before, &after)})
}

// accountByLogin finds an account by the login as somebody typed it.
func accountByLogin(ctx context.Context, tx Tx, login string) (defects.Account, error) {
	acc, err := tx.People().AccountByLogin(ctx, foldLogin(login))
	if notFound(err) {
		return acc, defects.RefuseField(defects.NotFound, "login", "account_not_found", "there is no account with this login")
	}
	return acc, err
}

func foldLogin(s string) string { return strings.ToLower(strings.TrimSpace(s)) }

func cleanLogin(s string) (string, error) {
	s = foldLogin(s)
	if len(s) < 2 || len(s) > 64 {
		return "", defects.RefuseField(defects.Invalid, "login", "bad_login", "must have 2 to 64 characters")
	}
	for _, c := range s {
		if !(c >= 'a' && c <= 'z' || c >= '0' && c <= '9' || strings.ContainsRune("._+@-", c)) {
			return "", defects.RefuseField(defects.Invalid, "login", "bad_login",
				fmt.Sprintf("%q is not taken in a login; use letters a to z, digits and . _ + @ -", c))
		}
	}
	return s, nil
}

// public leaves the password hash out; no caller needs it.
func public(a defects.Account) defects.Account {
	a.PasswordHash = ""
	return a
}

// signedIn refuses an actor without an account.
func signedIn(a Actor) error {
	if a.AccountID == "" {
		return defects.Refuse(defects.Unauthenticated, "", "sign in first")
	}
	return nil
}

// admin refuses whoever may not make sites and accounts.
func admin(a Actor) error {
	if err := signedIn(a); err != nil {
		return err
	}
	if !a.Admin {
		return defects.Refuse(defects.Forbidden, "admin_only", "only an administrator of this server may do this")
	}
	return nil
}
