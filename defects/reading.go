package defects

import "time"

// Reading is one measured value with all that a verdict needs.
type Reading struct {
	ID             string
	SiteID         string
	ClientID       string // what its sender called it, once a site; "" = nothing
	SetID          string // "" = stands alone
	Quantity       string // a name of Quantities
	Value          Decimal
	Observations   []Decimal // values taken one after the other, whose mean Value is; nil = it is one value
	Unit           string    // always the quantity's own unit
	Expanded       *Decimal  // U (k = 2) as entered; nil = from the instrument
	BaseLength     *Decimal  // metres
	Courses        int       // for course_gauge: 4 or 10; 0 = not stated
	FailurePlane   string    // bond_strength: "insulation", "adhesive/substrate" …; pull_out_load: a PullOutEnd
	Mode           string    // moisture_index: instrument mode
	Nominal        *Decimal  // design or sample value, for a limit relative to it
	Area           *Decimal  // fixing_count_board: area of the board in square metres
	Trend          Trend     // temperatures: rising, falling, steady; "" = not stated
	AirTemperature *Decimal  // surface temperatures: °C of the air beside it
	Humidity       *Decimal  // and its relative humidity in %
	Dolly          string    // bond_strength: "50 mm round" …
	InstrumentID   string
	Instrument     string // name, copied for lists
	MeasuredAt     time.Time
	ByID           string // account who measured
	ByName         string
	Gang           string // gang whose work it is
	Batch          string
	Stage          string
	Place          Place
	Photos         []string // photo ids
	Note           string
	Confirmed      bool   // implausible, and said to be right
	EnteredBy      string // account that typed it in
	EnteredName    string
	EnteredAt      time.Time
	Withdrawn      string // reason; "" = stands
	Verdict        Verdict
	SnagNumber     int // snag raised from it, 0 = none
	Version        int
}

// Set is a group of readings judged together, such as a pull-out test.
type Set struct {
	ID         string
	SiteID     string
	Quantity   string
	Name       string // "Quarry Terrace east, solid brick"
	Place      Place
	Substrate  string
	Stage      string
	Readings   int // how many stand (not withdrawn)
	Stated     Statement
	Verdict    Verdict
	Result     *Decimal // the figure the set verdict judged (for pull-out: N_Rk in kN, unrounded)
	ResultText string
	Version    int
}

// Instrument is one tool with its calibrations, the newest first.
type Instrument struct {
	ID         string
	SiteID     string
	Name       string // "taper gauge 2"
	Kind       string
	Serial     string
	Resolution *Decimal
	Unit       string
	Expanded   *Decimal // U (k = 2) in Unit when no calibration states one
	// Repeatability is the standard deviation, in Unit, of single repeats of one
	// measurement by those who use it; Repeats is from how many it was found, at
	// least 2, or 0 with none.
	Repeatability *Decimal
	Repeats       int
	Calibrations  []Calibration
	Version       int
}

// Calibration is one certificate's span of validity.
type Calibration struct {
	Certificate string
	On          string // "2006-01-02"
	Due         string // last valid day
	Expanded    *Decimal
	K           *Decimal // coverage factor of Expanded; nil = 2
}
