package register

import (
	"context"
	"slices"
	"time"

	"storeyrod/defects"
	"storeyrod/defects/reference"
)

// siteDates is what the dates of snags are reckoned from.
type siteDates struct {
	milestones []defects.Milestone
	stages     []defects.Stage
	today      string // at the site
}

// datesOf loads them. asked is the planned date that a filter names, or "".
func datesOf(ctx context.Context, tx Tx, site defects.Site, now time.Time, asked string) (siteDates, error) {
	d := siteDates{stages: reference.Stages()}
	var err error
	if d.milestones, err = tx.Sites().Milestones(ctx, site.ID); err != nil {
		return d, err
	}
	if asked != "" && !slices.ContainsFunc(d.milestones, func(m defects.Milestone) bool { return m.ID == asked }) {
		return d, defects.RefuseField(defects.NotFound, "milestone", "milestone_not_found", "the site has no such date")
	}
	d.today, err = dayAt(site, now)
	return d, err
}

// item is the line of a snag, and whether a filter by dates lets it through.
func (d siteDates) item(s defects.Snag, f ListFilter) (SnagItem, bool) {
	item := SnagItem{Snag: s, Thumbs: thumbs(s)}
	all := defects.DuesOf(s, d.milestones, d.stages)
	if len(all) > 0 {
		item.Due = all[0]
		item.Overdue = defects.OverdueDays(item.Due.On, d.today)
		item.Also = slices.Clip(all[1:])
	}
	if len(item.Also) == 0 {
		item.Also = nil
	}
	reason := func(due defects.Due) bool { return due.Reason == f.DueReason }
	planned := func(due defects.Due) bool { return due.MilestoneID == f.Milestone }
	switch {
	case f.DueReason != "" && !slices.ContainsFunc(all, reason),
		f.Milestone != "" && !slices.ContainsFunc(all, planned),
		f.Overdue && item.Overdue == 0:
		return item, false
	}
	return item, true
}

// ItemPage is one page of snags by number with their dates. Next is "" on the
// last page.
type ItemPage struct {
	Items []SnagItem
	Next  string
}

// ListItems lists the snags of a site, or of one elevation, by number with the
// dates that apply to them, under the same filter as a snag list. An
// operative's are his gang's. The number of statements does not grow with the
// list.
func (r *Register) ListItems(ctx context.Context, a Actor, siteID, elevationID string, f ListFilter, page Page) (out ItemPage, err error) {
	err = r.Store.Read(ctx, func(tx Tx) error {
		m, err := r.permit(ctx, tx, a, siteID, defects.ViewSite)
		if err != nil {
			return err
		}
		if f.Gang, err = ownGang(m, f.Gang); err != nil {
			return err
		}
		site, err := tx.Sites().Site(ctx, siteID)
		if err != nil {
			return err
		}
		dates, err := datesOf(ctx, tx, site, r.Now(), f.Milestone)
		if err != nil {
			return err
		}
		wanted := listed(siteID, elevationID, f)
		wanted.Order = ByNumber
		out.Items, out.Next, err = pageOf(page, func(p Page) ([]SnagItem, error) { return dates.page(ctx, tx, wanted, f, p) },
			func(item SnagItem) string { return CursorOfSnag(ByNumber, item.Snag) })
		return err
	})
	return out, err
}

// page fetches up to p.Limit lines. The store cannot tell dates, so a filter by
// them looks at all snags after the cursor.
func (d siteDates) page(ctx context.Context, tx Tx, wanted SnagFilter, f ListFilter, p Page) ([]SnagItem, error) {
	from := p
	if f.byDate() {
		from.Limit = everything().Limit
	}
	snags, err := tx.Snags().ListSnags(ctx, wanted, from)
	if err != nil {
		return nil, err
	}
	items := make([]SnagItem, 0, min(len(snags), p.Limit))
	for _, s := range snags {
		if item, ok := d.item(s, f); ok {
			if items = append(items, item); len(items) == p.Limit {
				break
			}
		}
	}
	return items, nil
}

// PlannedDate is one planned date with the open snags that it applies to.
type PlannedDate struct {
	defects.Milestone
	Open int
}

// PlannedDates lists a site's planned dates with how many open snags each of
// them applies to; an operative's are his gang's. The number of statements does
// not grow with either.
func (r *Register) PlannedDates(ctx context.Context, a Actor, siteID string) (out []PlannedDate, err error) {
	err = r.Store.Read(ctx, func(tx Tx) error {
		m, err := r.permit(ctx, tx, a, siteID, defects.ViewSite)
		if err != nil {
			return err
		}
		milestones, err := tx.Sites().Milestones(ctx, siteID)
		if err != nil {
			return err
		}
		out = make([]PlannedDate, len(milestones))
		at := map[string]*PlannedDate{}
		for i, planned := range milestones {
			out[i].Milestone = planned
			at[planned.ID] = &out[i]
		}
		if m.Role == defects.Operative && m.Gang == "" {
			return nil
		}
		snags, err := tx.Snags().ListSnags(ctx, SnagFilter{SiteID: siteID, OpenOnly: true, Gang: gangOf(m)}, everything())
		if err != nil {
			return err
		}
		for _, s := range snags {
			for _, due := range defects.DuesOf(s, milestones, nil) {
				if planned := at[due.MilestoneID]; planned != nil {
					planned.Open++
				}
			}
		}
		return nil
	})
	return out, err
}

// Gangs lists the gangs of a site by name: those of its people and those that
// snags were given to. An operative has his own only.
func (r *Register) Gangs(ctx context.Context, a Actor, siteID string) (gangs []string, err error) {
	err = r.Store.Read(ctx, func(tx Tx) error {
		m, err := r.permit(ctx, tx, a, siteID, defects.ViewSite)
		if err != nil {
			return err
		}
		if m.Role == defects.Operative {
			if m.Gang != "" {
				gangs = []string{m.Gang}
			}
			return nil
		}
		if gangs, err = tx.Snags().Gangs(ctx, siteID); err != nil {
			return err
		}
		members, err := tx.People().Memberships(ctx, MembershipFilter{SiteID: siteID})
		if err != nil {
			return err
		}
		for _, member := range members {
			if member.Gang != "" {
				gangs = append(gangs, member.Gang)
			}
		}
		slices.Sort(gangs)
		gangs = slices.Compact(gangs)
		return nil
	})
	return gangs, err
}
