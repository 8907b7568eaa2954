package register

import (
	"context"
	"log/slog"
	"time"

	"storeyrod/defects"
	"storeyrod/evidence"
	"storeyrod/imaging"
)

// Clock tells the time; tests give a fixed one.
type Clock func() time.Time

// Deps is what a Register is made of. Every field but Quota and HEVC is needed.
type Deps struct {
	Store   Store
	Blobs   evidence.Store        // originals
	Parts   evidence.PartStore    // what comes piece by piece; moves into Blobs
	Derived evidence.DerivedStore // view copies
	Quota   int64                 // bytes of photos a site may have unless it says otherwise; 0 = no limit
	Limits  imaging.Limits
	Pool    *imaging.Pool
	HEVC    imaging.OpenHEVC // decodes HEIC photos; without it they have no view copies
	Clock   Clock
	NewID   func() string // unique, sortable
	Secret  func() string // unguessable, for sessions, tokens and links
	Hash    func(password string) (string, error)
	Verify  func(password, hash string) (bool, error)
	Logger  *slog.Logger
}

// Register is the use cases over one store.
type Register struct {
	Deps
	cache     ruleCache
	passwords *passwords
	alike     *alikeIndex
	// Each holds one note that a photo came in.
	wake, wakeQuick chan struct{}
	copiesChanged   *bell
}

// New makes a Register.
func New(d Deps) *Register {
	return &Register{
		Deps: d, passwords: newPasswords(), alike: newAlikeIndex(mostAlike),
		wake: make(chan struct{}, 1), wakeQuick: make(chan struct{}, 1), copiesChanged: newBell(),
	}
}

// Actor is who asks: a signed-in account, with the device as it names itself.
type Actor struct {
	AccountID string
	Name      string
	Admin     bool
	Device    string
	KeyID     string // session or token he came with, "" when with none
}

// Now is the clock in UTC, cut to the microseconds that both databases keep.
func (r *Register) Now() time.Time { return r.Clock().UTC().Truncate(time.Microsecond) }

// member loads the actor's role on a site. A site the actor does not belong to
// is not found: a stranger does not learn that it exists.
func (r *Register) member(ctx context.Context, tx Tx, a Actor, siteID string) (defects.Membership, error) {
	if a.AccountID == "" {
		return defects.Membership{}, defects.Refuse(defects.Unauthenticated, "", "sign in first")
	}
	if a.AccountID == SystemID {
		return r.operator(ctx, tx, a, siteID)
	}
	ms, err := tx.People().Memberships(ctx, MembershipFilter{SiteID: siteID, AccountID: a.AccountID})
	if err != nil {
		return defects.Membership{}, err
	}
	if len(ms) == 0 {
		return defects.Membership{}, defects.RefuseField(defects.NotFound, "site", "site_not_found", "no such site, or you do not belong to it")
	}
	return ms[0], nil
}

// operator is the membership of System: manager of every site there is.
func (r *Register) operator(ctx context.Context, tx Tx, a Actor, siteID string) (defects.Membership, error) {
	if _, err := tx.Sites().Site(ctx, siteID); err != nil {
		return defects.Membership{}, err
	}
	return defects.Membership{SiteID: siteID, AccountID: SystemID, Name: a.Name, Role: defects.Manager}, nil
}

// permit loads the actor's role and refuses unless it holds the permission.
func (r *Register) permit(ctx context.Context, tx Tx, a Actor, siteID string, p defects.Permission) (defects.Membership, error) {
	m, err := r.member(ctx, tx, a, siteID)
	if err != nil {
		return m, err
	}
	if !m.Role.May(p) {
		return m, defects.RefuseRole(string(m.Role), string(p), defects.RoleNames(defects.WhoMay(p)))
	}
	return m, nil
}

// change is one entry to log; note writes it with the actor and the time.
type change struct {
	kind   string // "snag.offer"
	typ    string // "snag"
	id     string
	number int
	data   any
}

// note logs a change in the transaction it belongs to.
func (r *Register) note(ctx context.Context, tx Tx, a Actor, m defects.Membership, siteID string, c change) error {
	data, err := evidence.EncodeData(c.data)
	if err != nil {
		return err
	}
	_, err = tx.Log().Append(ctx, evidence.Entry{
		Version: 1,
		Site:    siteID,
		At:      r.Now(),
		Actor:   evidence.Actor{ID: a.AccountID, Name: a.Name, Role: string(m.Role), Device: a.Device},
		Kind:    c.kind,
		Subject: evidence.Subject{Type: c.typ, ID: c.id, Number: c.number},
		Data:    data,
	})
	return err
}

// noteInstance logs a change that belongs to no site.
func (r *Register) noteInstance(ctx context.Context, tx Tx, a Actor, c change) error {
	m := defects.Membership{AccountID: a.AccountID, Name: a.Name}
	if a.Admin {
		m.Role = adminRole
	}
	return r.note(ctx, tx, a, m, InstanceLog, c)
}

// person is the actor as a snag remembers him.
func person(a Actor, m defects.Membership) defects.Person {
	return defects.Person{ID: a.AccountID, Name: a.Name, Role: m.Role}
}
