package register

import (
	"context"

	"storeyrod/defects"
)

// NewSite is what a site is made from.
type NewSite struct {
	Name      string
	TimeZone  string           // IANA name
	Rule      defects.Rule     // "" = four-way
	Guard     *defects.Decimal // nil = U
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
	Fence     *[]defects.LonLat
}

// SiteView is a site as one of its members sees it.
type SiteView struct {
	defects.Site
	Role       defects.Role // "" for an admin who is no member
	Gang       string
	Open       int // snags that still owe work or a decision
	Elevations int
}

func (r *Register) CreateSite(ctx context.Context, a Actor, n NewSite) (defects.Site, error) {
	return defects.Site{}, errUnfinished
}
func (r *Register) UpdateSite(ctx context.Context, a Actor, siteID string, version int, p SitePatch) (defects.Site, error) {
	return defects.Site{}, errUnfinished
}
func (r *Register) Sites(ctx context.Context, a Actor) ([]SiteView, error) { return nil, errUnfinished }
func (r *Register) Site(ctx context.Context, a Actor, siteID string) (SiteView, error) {
	return SiteView{}, errUnfinished
}
func (r *Register) FindSite(ctx context.Context, a Actor, idOrName string) (SiteView, error) {
	return SiteView{}, errUnfinished
}
