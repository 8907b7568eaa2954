package register

import "storeyrod/defects"

// ReadingInput is one reading as somebody typed it. Numbers are text, so that
// nothing is rounded before it is understood.
type ReadingInput struct {
	Row          int    // position in a batch or file, for messages
	ID           string // the client's own id, for messages
	Quantity     string
	Value        string
	Unit         string // "" = the quantity's own
	Expanded     string // U (k = 2) in Unit; "" = from calibration or instrument
	BaseLength   string // metres
	Courses      int
	FailurePlane string
	Mode         string
	Dolly        string
	InstrumentID string // id or name
	MeasuredAt   string // RFC 3339; "" = now
	ByLogin      string // "" = the actor
	Gang         string
	Batch        string
	Stage        string
	ElevationID  string // id, "Building / Name", or a name used once on the site
	X, Z         string // metres
	Bay, Lift    int
	Opening      string
	Zone         string
	Photos       []string
	Note         string
	SetID        string
	Confirmed    bool // the value looks implausible and is right as typed
}

// ReadingResult is what became of one reading of a batch: Err, or Reading with
// what to do next.
type ReadingResult struct {
	Row      int
	Reading  defects.Reading
	FollowUp *FollowUp
	Err      *defects.Error
}
