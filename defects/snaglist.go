package defects

import "time"

// SnagItem is one line of a snag list.
type SnagItem struct {
	Snag    Snag
	Due     Due      // the date that matters
	Also    []Due    // the other dates that apply, in order
	Overdue int      // days that Due is past, counted in the site's zone; 0 = not
	Thumbs  []string // photo ids: the first one (before) and the last of the offer (after)
}

// SnagList is the list of one elevation, in walking order. Page, JSON, CSV and
// GeoJSON are all written from this one value.
type SnagList struct {
	Site       Site
	Elevation  Elevation
	Items      []SnagItem
	Counts     map[State]int
	BySeverity map[Severity]int
	At         time.Time
	Seq        int64 // position in the site's log at which the list was taken
}
