package models

import (
	"context"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

type accountRow struct {
	ID           string `gorm:"primaryKey"`
	Login        string
	Name         string
	PasswordHash string
	Admin        bool
	Disabled     bool
	Created      int64 `gorm:"column:created_at"`
	Version      int
}

func (accountRow) TableName() string { return "accounts" }

func toAccountRow(a defects.Account, version int) accountRow {
	return accountRow{
		ID: a.ID, Login: a.Login, Name: a.Name, PasswordHash: a.PasswordHash,
		Admin: a.Admin, Disabled: a.Disabled, Created: micros(a.CreatedAt), Version: version,
	}
}

func (r accountRow) account() (defects.Account, error) {
	return defects.Account{
		ID: r.ID, Login: r.Login, Name: r.Name, PasswordHash: r.PasswordHash,
		Admin: r.Admin, Disabled: r.Disabled, CreatedAt: instant(r.Created), Version: r.Version,
	}, nil
}

// memberRow is a membership; Name and Login come from the account.
type memberRow struct {
	SiteID    string `gorm:"primaryKey"`
	AccountID string `gorm:"primaryKey"`
	Role      string
	Gang      string
	Name      string `gorm:"->"`
	Login     string `gorm:"->"`
}

func (memberRow) TableName() string { return "memberships" }

func (r memberRow) membership() (defects.Membership, error) {
	return defects.Membership{
		SiteID: r.SiteID, AccountID: r.AccountID, Name: r.Name, Login: r.Login,
		Role: defects.Role(r.Role), Gang: r.Gang,
	}, nil
}

// people implements register.People.
type people struct{ *tx }

func (p people) InsertAccount(ctx context.Context, a defects.Account) (err error) {
	defer wrap("insert account", &err)
	return insert(ctx, p.tx, toAccountRow(a, firstVersion(a.Version)))
}

func (p people) UpdateAccount(ctx context.Context, a defects.Account) (err error) {
	defer wrap("update account", &err)
	return change(ctx, p.tx, "account", "", a.ID, a.Version, toAccountRow(a, a.Version+1), "created_at")
}

func (p people) Account(ctx context.Context, id string) (_ defects.Account, err error) {
	defer wrap("account", &err)
	return p.account(ctx, "id", id)
}

func (p people) AccountByLogin(ctx context.Context, login string) (_ defects.Account, err error) {
	defer wrap("account by login", &err)
	return p.account(ctx, "login", login)
}

func (p people) account(ctx context.Context, column, value string) (defects.Account, error) {
	q := from[accountRow](p.tx)
	q.add(" WHERE "+column+" = ?"+p.lockRow(), value)
	r, err := one[accountRow](ctx, p.tx, "account", q)
	if err != nil {
		return defects.Account{}, err
	}
	return r.account()
}

func (p people) Accounts(ctx context.Context) (_ []defects.Account, err error) {
	defer wrap("accounts", &err)
	q := from[accountRow](p.tx)
	q.add(" ORDER BY login")
	rows, err := list[accountRow](ctx, p.tx, q)
	if err != nil {
		return nil, err
	}
	return convert(rows, accountRow.account)
}

func (p people) SetMembership(ctx context.Context, m defects.Membership) (err error) {
	defer wrap("set membership", &err)
	if err := p.enter(ctx, m.SiteID); err != nil {
		return err
	}
	q := sqlText(`INSERT INTO memberships (site_id, account_id, role, gang) VALUES (?, ?, ?, ?)
		ON CONFLICT (site_id, account_id) DO UPDATE SET role = excluded.role, gang = excluded.gang`,
		m.SiteID, m.AccountID, string(m.Role), m.Gang)
	if m.Role == "" {
		q = sqlText("DELETE FROM memberships WHERE site_id = ? AND account_id = ?", m.SiteID, m.AccountID)
	}
	_, err = exec(ctx, p.tx, q)
	return err
}

func (p people) Memberships(ctx context.Context, by register.MembershipFilter) (_ []defects.Membership, err error) {
	defer wrap("memberships", &err)
	if by.SiteID == "" && by.AccountID == "" {
		return nil, defects.Refuse(defects.Invalid, "filter_needed", "memberships are listed by site or by account")
	}
	if err := p.enter(ctx, by.SiteID); err != nil {
		return nil, err
	}
	q := sqlText(`SELECT m.site_id, m.account_id, m.role, m.gang, a.name, a.login
		FROM memberships m JOIN accounts a ON a.id = m.account_id WHERE 1 = 1`)
	q.andEqual("m.site_id", by.SiteID)
	q.andEqual("m.account_id", by.AccountID)
	q.add(" ORDER BY a.name, a.id, m.site_id")
	rows, err := list[memberRow](ctx, p.tx, q)
	if err != nil {
		return nil, err
	}
	return convert(rows, memberRow.membership)
}
