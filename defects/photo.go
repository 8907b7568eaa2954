package defects

import "time"

// Grade is the evidence grade of a photo (DOMAIN §2.3, a proposal of ours).
type Grade string

// The grades.
const (
	GradeA Grade = "A" // original, time and place coherent
	GradeB Grade = "B" // one thing missing, explained by a second source
	GradeC Grade = "C" // picture only, illustrative
	GradeX Grade = "X" // refused
)

// Photo is one picture: its original bytes (named by SHA256), what it says of
// itself, and where it was put.
type Photo struct {
	ID         string
	SiteID     string
	SHA256     string // hex of the original bytes
	Size       int64
	FileName   string // as received, for people only
	Capture    Capture
	ReceivedAt time.Time
	AddedBy    string // account id
	AddedName  string
	Gang       string // gang of the person who added it
	Stage      string
	Place      Place // elevation chosen by a person or proposed by the program
	PlacedBy   PlacedBy
	Facing     []FaceGuess // candidates, the likeliest first
	Offered    string      // why it is offered anew after outlines changed; "" = it is not
	LabelSeen  bool        // an area or ID label can be read in frame
	ScaleSeen  bool        // a rule, tape or gauge is in frame
	Kind       string      // "context", "detail", "after" …, free
	Note       string
	Grade      Grade
	Flags      []Flag
	Overruled  string    // reason a person gave for overruling an X; "" = not
	Derived    string    // "" while waiting, "ready", or "failed: code"; see CopiesReason
	Likeness   *uint64   // perceptual hash, see PossiblySame; nil = not known yet
	CopiesSeq  int64     // counts up within the site with every change of Derived
	CopiesAt   time.Time // of that change
	Version    int
}

// PlacedBy says who chose a photo's elevation.
type PlacedBy string

// Who chose it.
const (
	NotPlaced     PlacedBy = ""
	PlacedProgram PlacedBy = "program"
	PlacedPerson  PlacedBy = "person"
)

// FaceGuess is one candidate elevation of a photo.
type FaceGuess struct {
	ElevationID string
	Name        string // building and elevation, for people
	DistanceM   float64
	OffAxisDeg  float64 // heading against looking straight at the wall; NaN is never stored: -1 = no heading
	Why         string
	P           float64 // chance that the middle of the picture lies on it, given that it lies on a wall; 0 = not worked out
}

// Flag is one observation about a photo with its effect, never an accusation.
type Flag struct {
	Code string // "no_place", "looked_away", "outside_fence", "place_not_proven", "clock_ahead" …
	Text string
	Caps Grade // best grade the photo can have while it stands; "" = none
}

// TakenAt is the best instant known for the photo: Exif time with offset, else
// the camera's clock read in the site's zone, else nothing.
func (p Photo) TakenAt(zone *time.Location) (at time.Time, sure bool) {
	if p.Capture.TakenUTC != nil {
		return *p.Capture.TakenUTC, true
	}
	if p.Capture.TakenLocal == "" {
		return time.Time{}, false
	}
	t, err := time.ParseInLocation(captureTime, p.Capture.TakenLocal, zone)
	if err != nil {
		return time.Time{}, false
	}
	return t, false
}

// MayOpenOriginal reports whether a member may open the original of a photo that
// he sees: originals carry place and time, so they are for who holds the
// permission, who added it, and of operatives those in whose gang's name it was
// added.
func (m Membership) MayOpenOriginal(p Photo) bool {
	gang := m.Role == Operative && m.Gang != "" && m.Gang == p.Gang
	return m.Role.May(ViewOriginal) || p.AddedBy == m.AccountID || gang
}
