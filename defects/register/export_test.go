package register

import "storeyrod/defects"

// Rows as the log keeps them, for tests that rebuild the state from the log.

func SiteRow(s defects.Site) any             { return siteEvent(nil, &s).After }
func BuildingRow(b defects.Building) any     { return buildingEvent(nil, &b).After }
func ElevationRow(e defects.Elevation) any   { return elevationEvent(nil, &e).After }
func MilestoneRow(m defects.Milestone) any   { return milestoneEvent(nil, &m).After }
func InstrumentRow(i defects.Instrument) any { return instrumentEvent(nil, &i).After }
