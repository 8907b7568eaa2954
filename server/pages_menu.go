package server

import (
	"storeyrod/defects"
	"storeyrod/defects/register"
)

// navGroup is one entry of a site's menu: a page, or several that belong
// together, of which the first opens.
type navGroup struct {
	Title string
	Pages []navLink
	Here  bool
	Page  string // name of the page that is open
}

// Href is where the entry leads.
func (g navGroup) Href() string { return g.Pages[0].Href }

// Several reports a group whose pages are shown while it is open.
func (g navGroup) Several() bool { return len(g.Pages) > 1 }

// menuOf lists the pages of a site that a role may open, the daily ones first.
func menuOf(view register.SiteView, section string) []navGroup {
	all := []struct {
		group, name, title string
		needs              defects.Permission
	}{
		{"Elevations", "elevations", "Elevations", defects.ViewSite},
		{"Snags", "snags", "Snags", defects.ViewSite},
		{"Take in", "take-in", "Take in", defects.AddPhoto},
		{"Photos", "photos", "Photos", defects.ViewSite},
		{"Measuring", "readings", "Readings", defects.ViewSite},
		{"Measuring", "sets", "Test sets", defects.ViewSite},
		{"Measuring", "surveys", "Surveys", defects.ViewSite},
		{"Measuring", "weather", "Weather", defects.ViewSite},
		{"Measuring", "instruments", "Instruments", defects.ViewSite},
		{"Measuring", "limits", "Limits", defects.ViewSite},
		{"Release", "hold-points", "Hold points", defects.ViewSite},
		{"Release", "plan", "Inspection plan", defects.ViewSite},
		{"Release", "dates", "Dates", defects.ViewSite},
		{"Record", "log", "Log", defects.ViewLog},
		{"Record", "sample", "Audit sample", defects.DrawSample},
		{"Record", "people", "People", ""},
		{"Record", "cautions", "Cautions", defects.ViewSite},
	}
	var out []navGroup
	for _, p := range all {
		if p.needs != "" && !view.Role.May(p.needs) {
			continue
		}
		link := navLink{Name: p.name, Title: p.title, Href: sitePath(view.ID, p.name)}
		if p.name == "elevations" {
			link.Href = sitePath(view.ID) // the site's own page lists them
		}
		if n := len(out); n == 0 || out[n-1].Title != p.group {
			out = append(out, navGroup{Title: p.group, Page: section})
		}
		last := &out[len(out)-1]
		last.Pages = append(last.Pages, link)
		last.Here = last.Here || p.name == section
	}
	return out
}
