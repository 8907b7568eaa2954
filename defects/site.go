package defects

import "time"

// Site is one job: one owner's set of buildings with its people and its log.
type Site struct {
	ID       string
	Name     string
	TimeZone string // IANA name
	Demo     bool   // invented data; said on every page
	Rule     Rule   // decision rule of new verdicts
	Guard    Decimal
	// Schedules in force, the governing one first (project before published
	// before common practice), each as name@version.
	Schedules []string
	Fence     []LonLat // optional ring around the site; empty = derived from the buildings
	// PhotoQuota bounds the bytes of its photos; 0 = no limit, nil = as for the
	// whole instance.
	PhotoQuota *int64
	// FaceThreshold is the chance from which a photo is put on a wall without
	// asking; nil = FaceThreshold.
	FaceThreshold *Decimal
	Accuracy      AccuracyReading
	Version       int
	CreatedAt     time.Time
}

// LonLat is a WGS84 position in degrees, in the order of RFC 7946.
type LonLat struct{ Lon, Lat float64 }

// XY is a position in metres: east and north of a local origin.
type XY struct{ X, Y float64 }

// Building is one block with its own dates. Its outline is either geodetic
// (Ring) or typed in metres (Plan); the other is empty. Both are closed without
// repeating the first point, in the order as given. Courtyards are rings within
// it, written likewise.
type Building struct {
	ID            string
	SiteID        string
	Name          string
	Ring          []LonLat
	Plan          []XY
	Courts        [][]LonLat // courtyards of a geodetic outline
	PlanCourts    [][]XY     // courtyards of one in metres
	Height        MM
	CompletedOn   string // practical completion, "2006-01-02"; "" = not yet
	DefectsMonths int    // length of the defects period; 0 = the default of 12
	Version       int
}

// Elevation is one outer face, always as seen from outside, facing the wall.
type Elevation struct {
	ID         string
	SiteID     string
	BuildingID string
	Building   string // name, copied for lists
	Name       string // "North", "East 2" …
	Order      int    // position in the building's list, from 0
	Court      int    // the ring its edge is of: 0 = the outer one, else the courtyard, from 1
	Edge       int    // 0-based edge of that ring as given; -1 when typed
	Length     MM
	Height     MM
	Bearing    Decimal // outward normal, degrees clockwise from true north
	BaseLine   MM      // base line above finished ground
	Bays       []MM    // right end of each bay from the left end, ascending
	Lifts      []MM    // top of each lift above the base line, ascending
	Openings   []Opening
	Version    int
}

// Opening is a door, window or vent hole; X and Z are its lower left corner.
type Opening struct {
	Name          string // "W07"
	Kind          string // "window", "door", "vent", "other"
	X, Z          MM
	Width, Height MM
}

// Milestone is a planned date that takes a part of a wall away: a stage that
// covers it, the scaffold strike, or practical completion. Zero bays or lifts
// mean all of them; an empty elevation means the whole site.
type Milestone struct {
	ID               string
	SiteID           string
	Kind             MilestoneKind
	Stage            string // for a cover-up: the stage that starts
	ElevationID      string
	BayFrom, BayTo   int
	LiftFrom, LiftTo int
	On               string // "2006-01-02"
	Version          int
}

// MilestoneKind names what a milestone takes away.
type MilestoneKind string

// The kinds of milestone.
const (
	CoverUp    MilestoneKind = "cover-up"
	Strike     MilestoneKind = "strike"
	Completion MilestoneKind = "completion"
)
