package register

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"storeyrod/defects"
)

// NewSite is what a site is made from.
type NewSite struct {
	Name      string
	TimeZone  string           // IANA name
	Rule      defects.Rule     // "" = four-way
	Guard     *defects.Decimal // r of the guard band w = r·U; nil = 1
	Schedules []string         // name or name@version, the governing one first
	Demo      bool
}

// SitePatch changes the fields that are not nil.
type SitePatch struct {
	Name      *string
	TimeZone  *string
	Rule      *defects.Rule
	Guard     *defects.Decimal
	Schedules *[]string
	Fence     *[]defects.LonLat // empty = derived from the buildings
	// PhotoQuota is in bytes; 0 = no limit, below 0 = as for the whole instance.
	PhotoQuota *int64
	// FaceThreshold and Accuracy are for photos that are placed from now on.
	FaceThreshold *defects.Decimal
	Accuracy      *defects.AccuracyReading
}

// SiteView is a site as one person sees it.
type SiteView struct {
	defects.Site
	Role       defects.Role // "" for an admin who is no member
	Gang       string
	Open       int // snags that still owe work or a decision; an operative's are his gang's
	Elevations int
}

// CreateSite makes a site. Admins only. Whoever makes it becomes its manager,
// but for the operator at the command line, who has no account.
func (r *Register) CreateSite(ctx context.Context, a Actor, n NewSite) (defects.Site, error) {
	if err := admin(a); err != nil {
		return defects.Site{}, err
	}
	site := defects.Site{
		ID: r.NewID(), Rule: n.Rule, Guard: defects.DecimalOf(1), Demo: n.Demo, Version: 1, CreatedAt: r.Now(),
	}
	if site.Rule == "" {
		site.Rule = defects.FourWay
	}
	patch := SitePatch{Name: &n.Name, TimeZone: &n.TimeZone, Rule: &site.Rule, Guard: n.Guard, Schedules: &n.Schedules}
	err := r.Store.Write(ctx, func(tx Tx) error {
		shelf, err := r.shelf(ctx, tx, "")
		if err != nil {
			return err
		}
		if site, err = patch.on(site, shelf); err != nil {
			return err
		}
		return r.insertSite(ctx, tx, a, site)
	})
	if err != nil {
		return defects.Site{}, err
	}
	return site, nil
}

func (r *Register) insertSite(ctx context.Context, tx Tx, a Actor, site defects.Site) error {
	if err := tx.Sites().InsertSite(ctx, site); err != nil {
		return err
	}
	by := defects.Membership{SiteID: site.ID, AccountID: a.AccountID, Name: a.Name, Role: adminRole}
	err := r.note(ctx, tx, a, by, site.ID, change{kind: "site.add", typ: "site", id: site.ID, data: siteEvent(nil, &site)})
	if err != nil || a.AccountID == SystemID {
		return err
	}
	acc, err := tx.People().Account(ctx, a.AccountID)
	if err != nil {
		return err
	}
	first := defects.Membership{SiteID: site.ID, AccountID: acc.ID, Name: acc.Name, Login: acc.Login, Role: defects.Manager}
	return r.changeMembership(ctx, tx, a, by, first)
}

// on checks the patch and gives the site as it is then.
func (p SitePatch) on(s defects.Site, shelf shelf) (defects.Site, error) {
	var err error
	if p.Name != nil {
		if s.Name, err = cleanName("name", *p.Name); err != nil {
			return s, err
		}
	}
	if p.TimeZone != nil {
		if s.TimeZone, err = cleanZone(*p.TimeZone); err != nil {
			return s, err
		}
	}
	if p.Rule != nil {
		if !p.Rule.Known() {
			return s, defects.RefuseField(defects.Invalid, "rule", "unknown_rule", "must be simple, guarded or four-way")
		}
		s.Rule = *p.Rule
	}
	if p.Guard != nil {
		if p.Guard.Sign() <= 0 || defects.DecimalOf(3).Less(*p.Guard) {
			return s, defects.RefuseField(defects.Invalid, "guard", "bad_guard", "must be above 0 and at most 3 times the uncertainty; 1 is usual")
		}
		s.Guard = *p.Guard
	}
	if p.Schedules != nil {
		if s.Schedules, err = shelf.refs(*p.Schedules); err != nil {
			return s, err
		}
	}
	if p.PhotoQuota != nil {
		if s.PhotoQuota = p.PhotoQuota; *p.PhotoQuota < 0 {
			s.PhotoQuota = nil
		}
	}
	if s, err = p.onFaces(s); err != nil {
		return s, err
	}
	if p.Fence != nil {
		s.Fence = slices.Clone(defects.Normalise(*p.Fence))
		if len(s.Fence) > 0 {
			return s, defects.CheckRing(s.Fence, "fence")
		}
	}
	return s, nil
}

// onFaces changes what photos are placed by. The default is stored as none.
func (p SitePatch) onFaces(s defects.Site) (defects.Site, error) {
	if p.FaceThreshold != nil {
		if err := defects.CheckFaceThreshold(*p.FaceThreshold); err != nil {
			return s, err
		}
		s.FaceThreshold = p.FaceThreshold
		if p.FaceThreshold.Float() == defects.FaceThreshold {
			s.FaceThreshold = nil
		}
	}
	if p.Accuracy != nil {
		if !p.Accuracy.Known() {
			return s, defects.RefuseField(defects.Invalid, "accuracy", "unknown_reading", "must be 68 or 95, or empty for the way phones state it")
		}
		s.Accuracy = *p.Accuracy
	}
	return s, nil
}

// cleanZone takes a name of the time zone database; "Local" would mean another
// zone on another machine.
func cleanZone(s string) (string, error) {
	s = strings.TrimSpace(s)
	if _, err := time.LoadLocation(s); err != nil || s == "" || s == "Local" {
		return "", defects.RefuseField(defects.Invalid, "time_zone", "unknown_time_zone", "must be a name such as Europe/London")
	}
	return s, nil
}

// UpdateSite changes a site. Rule, guard band and schedules are for those who
// may set limits; the quota for those who may set it; the rest for those who may edit the site. Verdicts given
// before stay as they are: Rejudge is a decision of its own.
func (r *Register) UpdateSite(ctx context.Context, a Actor, siteID string, version int, p SitePatch) (defects.Site, error) {
	var after defects.Site
	err := r.Store.Write(ctx, func(tx Tx) error {
		m, err := r.permitPatch(ctx, tx, a, siteID, p)
		if err != nil {
			return err
		}
		before, err := tx.Sites().Site(ctx, siteID)
		if err != nil {
			return err
		}
		if err := checkVersion(version, before.Version, "site"); err != nil {
			return err
		}
		shelf, err := r.shelf(ctx, tx, siteID)
		if err != nil {
			return err
		}
		if after, err = p.on(before, shelf); err != nil {
			return err
		}
		if err := tx.Sites().UpdateSite(ctx, after); err != nil {
			return err
		}
		after.Version++
		return r.note(ctx, tx, a, m, siteID, change{
			kind: "site.update", typ: "site", id: siteID, data: siteEvent(&before, &after),
		})
	})
	if err != nil {
		return defects.Site{}, err
	}
	return after, nil
}

func (r *Register) permitPatch(ctx context.Context, tx Tx, a Actor, siteID string, p SitePatch) (defects.Membership, error) {
	limits := p.Rule != nil || p.Guard != nil || p.Schedules != nil
	if limits {
		m, err := r.permit(ctx, tx, a, siteID, defects.SetLimits)
		if err != nil {
			return m, err
		}
	}
	if p.PhotoQuota != nil {
		m, err := r.permit(ctx, tx, a, siteID, defects.SetQuota)
		if err != nil || p == (SitePatch{PhotoQuota: p.PhotoQuota}) {
			return m, err
		}
	}
	if !limits || p.Name != nil || p.TimeZone != nil || p.Fence != nil || p.FaceThreshold != nil || p.Accuracy != nil {
		return r.permit(ctx, tx, a, siteID, defects.EditSite)
	}
	return r.member(ctx, tx, a, siteID)
}

// Sites lists the sites the actor belongs to, by name. An admin sees all, since
// it is he who says who belongs to them.
func (r *Register) Sites(ctx context.Context, a Actor) ([]SiteView, error) {
	if err := signedIn(a); err != nil {
		return nil, err
	}
	var list []SiteView
	err := r.Store.Read(ctx, func(tx Tx) (err error) {
		list, err = r.sites(ctx, tx, a)
		return err
	})
	return list, err
}

func (r *Register) sites(ctx context.Context, tx Tx, a Actor) ([]SiteView, error) {
	mine, err := r.memberships(ctx, tx, a)
	if err != nil {
		return nil, err
	}
	var ids []string // nil = all
	if !a.Admin {
		ids = make([]string, 0, len(mine))
		for id := range mine {
			ids = append(ids, id)
		}
		slices.Sort(ids)
	}
	if ids != nil && len(ids) == 0 {
		return nil, nil
	}
	sites, err := tx.Sites().Sites(ctx, ids)
	if err != nil {
		return nil, err
	}
	list := make([]SiteView, 0, len(sites))
	for _, s := range sites {
		m := mine[s.ID]
		if a.AccountID == SystemID {
			m.Role = defects.Manager
		}
		v, err := siteView(ctx, tx, s, m)
		if err != nil {
			return nil, err
		}
		list = append(list, v)
	}
	return list, nil
}

// memberships gives the actor's roles by site.
func (r *Register) memberships(ctx context.Context, tx Tx, a Actor) (map[string]defects.Membership, error) {
	out := map[string]defects.Membership{}
	if a.AccountID == SystemID {
		return out, nil
	}
	all, err := tx.People().Memberships(ctx, MembershipFilter{AccountID: a.AccountID})
	for _, m := range all {
		out[m.SiteID] = m
	}
	return out, err
}

// siteView counts what a member may see of a site; an admin who is none sees
// its name alone.
func siteView(ctx context.Context, tx Tx, s defects.Site, m defects.Membership) (SiteView, error) {
	v := SiteView{Site: s, Role: m.Role, Gang: m.Gang}
	if !m.Role.Known() {
		return v, nil
	}
	f := SnagFilter{SiteID: s.ID, OpenOnly: true}
	if m.Role == defects.Operative {
		f.Gang = m.Gang
	}
	counts, err := tx.Snags().CountSnags(ctx, f)
	if err != nil {
		return v, err
	}
	for _, n := range counts {
		v.Open += n
	}
	walls, err := tx.Walls().Elevations(ctx, s.ID)
	v.Elevations = len(walls)
	return v, err
}

// Site is one site with its counts.
func (r *Register) Site(ctx context.Context, a Actor, siteID string) (SiteView, error) {
	return r.siteOf(ctx, a, siteID, siteView)
}

// SiteHead is one site and the asker's part in it without the counts, which
// grow with the site: what every page begins with.
func (r *Register) SiteHead(ctx context.Context, a Actor, siteID string) (SiteView, error) {
	return r.siteOf(ctx, a, siteID, func(_ context.Context, _ Tx, s defects.Site, m defects.Membership) (SiteView, error) {
		return SiteView{Site: s, Role: m.Role, Gang: m.Gang}, nil
	})
}

func (r *Register) siteOf(ctx context.Context, a Actor, siteID string,
	view func(context.Context, Tx, defects.Site, defects.Membership) (SiteView, error),
) (v SiteView, err error) {
	err = r.Store.Read(ctx, func(tx Tx) error {
		m, err := r.permitOrAdmin(ctx, tx, a, siteID, defects.ViewSite)
		if err != nil {
			return err
		}
		if !m.Role.Known() {
			m.Role = ""
		}
		s, err := tx.Sites().Site(ctx, siteID)
		if err != nil {
			return err
		}
		v, err = view(ctx, tx, s, m)
		return err
	})
	return v, err
}

// FindSite finds one of the actor's sites by its id or, whatever the letter
// case, its name. A name that several have answers Conflict "site_ambiguous".
func (r *Register) FindSite(ctx context.Context, a Actor, idOrName string) (SiteView, error) {
	list, err := r.Sites(ctx, a)
	if err != nil {
		return SiteView{}, err
	}
	var found []SiteView
	for _, v := range list {
		if v.ID == idOrName || v.Name == idOrName {
			return v, nil
		}
		if strings.EqualFold(v.Name, strings.TrimSpace(idOrName)) {
			found = append(found, v)
		}
	}
	switch len(found) {
	case 0:
		return SiteView{}, defects.RefuseField(defects.NotFound, "site", "site_not_found", "no such site, or you do not belong to it")
	case 1:
		return found[0], nil
	}
	return SiteView{}, defects.RefuseField(defects.Conflict, "site", "site_ambiguous",
		fmt.Sprintf("%d sites have this name; give the id", len(found)))
}
