package defects

import (
	"slices"
	"strings"
)

// Role is what a person is on one site. A person may hold one role per site.
type Role string

// The roles.
const (
	Clerk     Role = "clerk"     // clerk of works: inspects, accepts or refuses
	Installer Role = "installer" // installer's supervisor: makes good, offers
	Operative Role = "operative" // does the work, takes photos and readings
	Auditor   Role = "auditor"   // warranty auditor: reads all, changes nothing
	Designer  Role = "designer"  // decides technically, sets limits
	Manager   Role = "manager"   // contract administrator or main contractor: instructs
	Owner     Role = "owner"     // building owner: accepts what affects value
)

// Roles lists them in the order shown to people.
func Roles() []Role {
	return []Role{Clerk, Installer, Operative, Auditor, Designer, Manager, Owner}
}

// Known reports whether r is one of Roles.
func (r Role) Known() bool { return slices.Contains(Roles(), r) }

// Permission is one thing a role may do on a site. Steps of a snag have their
// own table in workflow.go.
type Permission string

// The permissions.
const (
	ViewSite         Permission = "view site"
	ViewLog          Permission = "read the log"
	ViewOriginal     Permission = "open original photos"
	EditSite         Permission = "edit the site's geometry and dates"
	EditPeople       Permission = "add people and set roles"
	SetLimits        Permission = "choose tolerance schedules"
	AddPhoto         Permission = "add photos"
	PlacePhoto       Permission = "place photos and overrule their checks"
	AddReading       Permission = "add readings"
	WithdrawReading  Permission = "withdraw another's reading"
	AddInstrument    Permission = "add instruments and calibrations"
	RaiseSnag        Permission = "raise snags"
	StepSnag         Permission = "take a step with a snag"
	ReleaseHoldPoint Permission = "release or refuse hold points"
	SetQuota         Permission = "set how much the site's photos may take"
	DrawSample       Permission = "draw an audit sample"
)

// permitted is the whole table; TestEveryRoleAndPermission prints it.
var permitted = map[Permission][]Role{
	ViewSite:         Roles(),
	ViewLog:          {Clerk, Auditor, Designer, Manager},
	ViewOriginal:     {Clerk, Auditor, Designer, Manager},
	EditSite:         {Clerk, Manager},
	EditPeople:       {Manager},
	SetLimits:        {Designer, Manager},
	AddPhoto:         {Clerk, Installer, Operative, Designer, Manager},
	PlacePhoto:       {Clerk, Installer, Manager},
	AddReading:       {Clerk, Installer, Operative, Designer, Manager},
	WithdrawReading:  {Clerk, Manager},
	AddInstrument:    {Clerk, Installer, Manager},
	RaiseSnag:        {Clerk, Installer, Operative, Designer, Manager},
	StepSnag:         {Clerk, Installer, Designer, Manager, Owner},
	ReleaseHoldPoint: {Clerk},
	SetQuota:         {Manager, Owner},
	DrawSample:       {Clerk, Auditor, Designer, Manager},
}

// May reports whether the role holds the permission.
func (r Role) May(p Permission) bool { return slices.Contains(permitted[p], r) }

// WhoMay lists the roles that hold the permission, for a refusal's text.
func WhoMay(p Permission) []Role { return slices.Clone(permitted[p]) }

// RefuseRole is the refusal of what a role may not do; who names those that may.
func RefuseRole(as, what, who string) *Error {
	return Refuse(Forbidden, "role_forbidden", "as "+as+" you may not "+what+"; this is for: "+who)
}

// RoleNames lists roles as a refusal names them.
func RoleNames(roles []Role) string {
	names := make([]string, len(roles))
	for i, role := range roles {
		names[i] = string(role)
	}
	return strings.Join(names, ", ")
}
