package register

import (
	"context"
	"math"
	"slices"

	"storeyrod/defects"
)

// ListFilter narrows a snag list; zero fields do not narrow.
type ListFilter struct {
	States     []defects.State
	All        bool // closed, conceded and withdrawn ones as well
	Severities []defects.Severity
	Stage      string
	Gang       string
	Code       string // a code, or the stage that codes begin with: "BM"
	Bay, Lift  int
	DueReason  defects.DueReason // those that a date of this kind applies to, the earliest or not
	Milestone  string            // id of a planned date: those that it applies to
	Overdue    bool              // those whose date is past, counted in the site's zone
}

// byDate reports whether a filter asks for dates, which the store does not know.
func (f ListFilter) byDate() bool { return f.DueReason != "" || f.Milestone != "" || f.Overdue }

// The list itself is a value of package defects, so that reports can write it.
// Counts is every snag of the elevation by state, BySeverity its open ones by
// severity; a filter narrows neither, but an operative's gang does.
type (
	SnagItem = defects.SnagItem
	SnagList = defects.SnagList
)

// everything asks a list for all of its rows in one statement.
func everything() Page { return Page{Limit: math.MaxInt32} }

// SnagList is the snag list of one elevation in walking order, taken with a
// constant number of statements. With elevationID "" it is the lists of all
// elevations after one another, with an empty Elevation.
func (r *Register) SnagList(ctx context.Context, a Actor, siteID, elevationID string, f ListFilter) (SnagList, error) {
	lists, err := r.snagLists(ctx, a, siteID, elevationID, f)
	if err != nil {
		return SnagList{}, err
	}
	if elevationID != "" {
		return lists[0], nil
	}
	all := lists[0]
	all.Elevation = defects.Elevation{}
	for _, l := range lists[1:] {
		all.Items = append(all.Items, l.Items...)
		addCounts(all.Counts, l.Counts)
		addCounts(all.BySeverity, l.BySeverity)
	}
	return all, nil
}

// SnagLists is the snag list of every elevation of a site, in the order of the
// elevations, those without snags as well.
func (r *Register) SnagLists(ctx context.Context, a Actor, siteID string, f ListFilter) ([]SnagList, error) {
	lists, err := r.snagLists(ctx, a, siteID, "", f)
	if err != nil {
		return nil, err
	}
	if len(lists) == 1 && lists[0].Elevation.ID == "" {
		return nil, nil // a site without elevations
	}
	return lists, nil
}

// snagLists answers at least one list.
func (r *Register) snagLists(ctx context.Context, a Actor, siteID, elevationID string, f ListFilter) (lists []SnagList, err error) {
	err = r.Store.Read(ctx, func(tx Tx) error {
		m, err := r.permit(ctx, tx, a, siteID, defects.ViewSite)
		if err != nil {
			return err
		}
		if f.Gang, err = ownGang(m, f.Gang); err != nil {
			return err
		}
		if lists, err = r.emptyLists(ctx, tx, siteID, elevationID); err != nil {
			return err
		}
		dates, err := datesOf(ctx, tx, lists[0].Site, r.Now(), f.Milestone)
		if err != nil {
			return err
		}
		snags, err := tx.Snags().ListSnags(ctx, listed(siteID, elevationID, f), everything())
		if err != nil {
			return err
		}
		counts, err := tx.Snags().CountSnags(ctx, SnagFilter{SiteID: siteID, ElevationID: elevationID, Gang: gangOf(m)})
		if err != nil {
			return err
		}
		fillLists(lists, snags, dates, counts, f)
		return nil
	})
	return lists, err
}

func gangOf(m defects.Membership) string {
	if m.Role == defects.Operative {
		return m.Gang
	}
	return ""
}

func listed(siteID, elevationID string, f ListFilter) SnagFilter {
	return SnagFilter{
		SiteID: siteID, ElevationID: elevationID, States: f.States, OpenOnly: !f.All && len(f.States) == 0,
		Severities: f.Severities, Stage: f.Stage, Gang: f.Gang, CodeOrStage: f.Code, Bay: f.Bay, Lift: f.Lift, Order: ByWalk,
	}
}

// emptyLists makes one list per elevation, or one without when there is none.
func (r *Register) emptyLists(ctx context.Context, tx Tx, siteID, elevationID string) ([]SnagList, error) {
	site, err := tx.Sites().Site(ctx, siteID)
	if err != nil {
		return nil, err
	}
	elevations := []defects.Elevation{{}}
	if elevationID != "" {
		if elevations[0], err = tx.Walls().Elevation(ctx, siteID, elevationID); err != nil {
			return nil, err
		}
	} else {
		all, err := tx.Walls().Elevations(ctx, siteID)
		if err != nil {
			return nil, err
		}
		if len(all) > 0 {
			elevations = all
		}
	}
	seq, err := tx.Log().Head(ctx, siteID)
	if err != nil {
		return nil, err
	}
	lists := make([]SnagList, len(elevations))
	for i, e := range elevations {
		lists[i] = SnagList{
			Site: site, Elevation: e, At: r.Now(), Seq: seq,
			Counts: map[defects.State]int{}, BySeverity: map[defects.Severity]int{},
		}
	}
	return lists, nil
}

// fillLists deals snags, which come in walking order within each elevation, and
// counts out to the lists.
func fillLists(lists []SnagList, snags []defects.Snag, dates siteDates, counts map[SnagCount]int, f ListFilter) {
	at := make(map[string]*SnagList, len(lists))
	for i := range lists {
		at[lists[i].Elevation.ID] = &lists[i]
	}
	for _, s := range snags {
		item, ok := dates.item(s, f)
		if !ok {
			continue
		}
		if l, ok := at[s.Place.ElevationID]; ok {
			l.Items = append(l.Items, item)
		}
	}
	for c, n := range counts {
		l, ok := at[c.ElevationID]
		if !ok {
			continue
		}
		l.Counts[c.State] += n
		if c.State.Open() {
			l.BySeverity[c.Severity] += n
		}
	}
}

// thumbs are the photos of a line: the first one, and the last of the offer.
func thumbs(s defects.Snag) []string {
	if len(s.Photos) == 0 {
		return nil
	}
	pair := []string{s.Photos[0]}
	if n := len(s.OfferPhotos); n > 0 && s.OfferPhotos[n-1] != s.Photos[0] {
		pair = append(pair, s.OfferPhotos[n-1])
	}
	return slices.Clip(pair)
}

func addCounts[K comparable](to, from map[K]int) {
	for k, n := range from {
		to[k] += n
	}
}
