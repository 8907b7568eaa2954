package register

import (
	"context"
	"slices"
	"strings"

	"storeyrod/defects"
)

// SetRole gives a person a role on a site, changes it, or takes it away with an
// empty role. The site's managers and the server's admins may do so. Nobody
// changes his own role, the last manager stays, and an operative needs a gang,
// since what he sees is chosen by it.
func (r *Register) SetRole(ctx context.Context, a Actor, siteID, login string, role defects.Role, gang string) error {
	if role != "" && !role.Known() {
		return defects.RefuseField(defects.Invalid, "role", "unknown_role", "must be one of "+roleNames(defects.Roles()))
	}
	gang, err := cleanText("gang", gang, maxName)
	if err != nil {
		return err
	}
	if role == defects.Operative && gang == "" {
		return defects.RefuseField(defects.Invalid, "gang", "gang_needed", "an operative belongs to a gang; name it")
	}
	return r.Store.Write(ctx, func(tx Tx) error {
		by, err := r.permitOrAdmin(ctx, tx, a, siteID, defects.EditPeople)
		if err != nil {
			return err
		}
		acc, err := accountByLogin(ctx, tx, login)
		if err != nil {
			return err
		}
		if acc.ID == a.AccountID {
			return defects.Refuse(defects.Forbidden, "own_role", "nobody changes his own role; ask another manager")
		}
		after := defects.Membership{SiteID: siteID, AccountID: acc.ID, Name: acc.Name, Login: acc.Login, Role: role, Gang: gang}
		return r.changeMembership(ctx, tx, a, by, after)
	})
}

// changeMembership stores and logs a role; saying the same again is no change.
func (r *Register) changeMembership(ctx context.Context, tx Tx, a Actor, by, after defects.Membership) error {
	all, err := tx.People().Memberships(ctx, MembershipFilter{SiteID: after.SiteID})
	if err != nil {
		return err
	}
	before, others := defects.Membership{}, 0
	for _, m := range all {
		switch {
		case m.AccountID == after.AccountID:
			before = m
		case m.Role == defects.Manager:
			others++
		}
	}
	if before.Role == after.Role && (before.Gang == after.Gang || after.Role == "") {
		return nil
	}
	if before.Role == defects.Manager && after.Role != defects.Manager && others == 0 {
		return defects.RefuseField(defects.Conflict, "role", "last_manager", "a site keeps at least one manager; appoint another one first")
	}
	if err := tx.People().SetMembership(ctx, after); err != nil {
		return err
	}
	return r.note(ctx, tx, a, by, after.SiteID, change{
		kind: "member.set", typ: "member", id: after.AccountID, data: memberEvent(before, after),
	})
}

// Members lists the people of a site by name; an operative sees no other gang's
// name.
func (r *Register) Members(ctx context.Context, a Actor, siteID string) ([]defects.Membership, error) {
	var list []defects.Membership
	err := r.Store.Read(ctx, func(tx Tx) (err error) {
		m, err := r.permitOrAdmin(ctx, tx, a, siteID, defects.ViewSite)
		if err != nil {
			return err
		}
		list, err = tx.People().Memberships(ctx, MembershipFilter{SiteID: siteID})
		for i := range list {
			if othersHidden(m) && list[i].Gang != m.Gang {
				list[i].Gang = ""
			}
		}
		return err
	})
	slices.SortFunc(list, func(x, y defects.Membership) int {
		return strings.Compare(strings.ToLower(x.Name)+x.Login, strings.ToLower(y.Name)+y.Login)
	})
	return list, err
}

// permitOrAdmin is permit, but lets an admin in who is no member. It serves the
// people of a site and its name alone, never its record.
func (r *Register) permitOrAdmin(ctx context.Context, tx Tx, a Actor, siteID string, p defects.Permission) (defects.Membership, error) {
	m, err := r.permit(ctx, tx, a, siteID, p)
	if err == nil || !a.Admin {
		return m, err
	}
	if _, err := tx.Sites().Site(ctx, siteID); err != nil {
		return m, err
	}
	return defects.Membership{SiteID: siteID, AccountID: a.AccountID, Name: a.Name, Role: adminRole}, nil
}

// adminRole is what the log says of an admin who acts on a site, or on the
// server, as such.
const adminRole = defects.Role("admin")

func roleNames(roles []defects.Role) string {
	names := make([]string, len(roles))
	for i, role := range roles {
		names[i] = string(role)
	}
	return strings.Join(names, ", ")
}
