package defects

import (
	"fmt"
	"slices"
	"time"
)

// State is where a snag stands in its life.
type State string

// The states.
const (
	Raised     State = "raised"     // recorded; next: clerk or manager instructs
	Instructed State = "instructed" // ordered to make good; next: installer
	Offered    State = "offered"    // said to be ready; next: clerk looks again
	Disputed   State = "disputed"   // installer does not agree; next: manager or designer decides
	Deferred   State = "deferred"   // agreed later date or event
	Closed     State = "closed"     // accepted as finished
	Conceded   State = "conceded"   // accepted as built, within the concession's terms
	Withdrawn  State = "withdrawn"  // taken back with a reason; stays in the register
)

// States lists them in the order of a snag's life.
func States() []State {
	return []State{Raised, Instructed, Offered, Disputed, Deferred, Closed, Conceded, Withdrawn}
}

// Open reports whether work or a decision is still owed.
func (s State) Open() bool { return s != Closed && s != Conceded && s != Withdrawn }

// Known reports whether s is one of States.
func (s State) Known() bool { return slices.Contains(States(), s) }

// Step is one move in a snag's life.
type Step string

// The steps, by the names used in URLs, the log and on buttons.
const (
	StepRaise       Step = "raise"
	StepInstruct    Step = "instruct"
	StepAcknowledge Step = "acknowledge"
	StepOffer       Step = "offer"
	StepRefuse      Step = "refuse"
	StepClose       Step = "close"
	StepDispute     Step = "dispute"
	StepDecide      Step = "decide"
	StepDefer       Step = "defer"
	StepConcede     Step = "concede"
	StepWithdraw    Step = "withdraw"
	StepReopen      Step = "reopen"
)

// Steps lists all steps but raise, which makes the snag.
func Steps() []Step {
	return []Step{
		StepInstruct, StepAcknowledge, StepOffer, StepRefuse, StepClose, StepDispute,
		StepDecide, StepDefer, StepConcede, StepWithdraw, StepReopen,
	}
}

// Extent says whether the fault is one place or shows a pattern to search for.
type Extent string

// The extents.
const (
	Single  Extent = "single"
	Several Extent = "several"
	Pattern Extent = "pattern"
)

// Snag is one recorded defect to be made good. Its state is the fold of its
// events: Replay of them gives this value again.
type Snag struct {
	ID           string
	SiteID       string
	Number       int // per site, never used twice
	Code         string
	Title        string // the catalogue's name, copied
	Stage        string
	Severity     Severity
	Extent       Extent
	Covered      bool
	Place        Place
	PlaceWords   string
	Requirement  string // what had to be met, with source and edition
	Text         string // what was seen
	ReadingID    string // reading that failed, "" = seen only
	ReadingText  string // "13.6 mm against 7 to 13 mm", copied
	Quantity     string // set for a measured defect: closing needs a reading of it
	Competent    string // "fire", "gas", "electric", "structure": who must sign a critical one
	Gang         string
	State        State
	Round        int // 1 from the first instruction, +1 with each refusal
	RaisedBy     Person
	RaisedAt     time.Time
	InstructedAt time.Time // of the current round
	OwnDue       string    // "2006-01-02" as instructed; "" = none yet
	PlannedOn    string
	DeferUntil   string
	OfferedBy    Person
	MadeGood     MakingGood // of the current offer
	OfferPhotos  []string   // photo ids of the current offer
	OfferReading string     // reading id of the current offer
	FirstSigned  Person     // a critical item's first signature, while it waits for the second
	ClosedAt     time.Time
	DisputeBy    Person
	Ground       DisputeGround
	Concession   *Concession
	Photos       []string // all photo ids, in the order they were added
	WalkRank     int64    // place in the walk, see SortWalk
	Version      int
}

// Ref is the number as people say it: "SN-0112".
func (s Snag) Ref() string { return SnagRef(s.Number) }

// SnagRef formats a snag number.
func SnagRef(n int) string { return fmt.Sprintf("SN-%04d", n) }

// Person is an account with its name copied, so that the record survives it.
type Person struct {
	ID   string
	Name string
	Role Role
}

// MakingGood is what was done to put a snag right.
type MakingGood struct {
	Kind    string // "rework" conforms; "repair" is usable and needs a concession to close
	Text    string // what was removed, what was used
	Product string
	Batch   string
	ByID    string // who did it, when that is an account
	ByName  string
	Started time.Time
}

// DisputeGround is why an installer disputes.
type DisputeGround string

// The grounds.
const (
	NotOurs         DisputeGround = "not ours"
	WithinTolerance DisputeGround = "within tolerance"
	MeasuredWrongly DisputeGround = "measured wrongly"
	ByDesign        DisputeGround = "design"
	DamagedByOthers DisputeGround = "damage by others"
)

// Grounds lists them.
func Grounds() []DisputeGround {
	return []DisputeGround{NotOurs, WithinTolerance, MeasuredWrongly, ByDesign, DamagedByOthers}
}

// Concession is permission to keep work that does not conform. It binds its
// area and its value only.
type Concession struct {
	AskedBy    Person
	AskedAt    time.Time
	Reason     string
	Area       string   // in words and size: "2.6 m run of the arris"
	Deviation  *Decimal // the measured value it covers at most, absolute; nil = not a measured defect
	Unit       string
	Conditions string
	Expires    string // "2006-01-02" or "" = for life
	Document   string // written answer of the competent person
	Technical  Person // designer's grant
	GrantedAt  time.Time
	Value      Person // owner's or manager's grant
	ValueAt    time.Time
	From       int // number of the snag whose concession this repeats, 0 = none
}

// Granted reports whether both grants are there.
func (c *Concession) Granted() bool {
	return c != nil && c.Technical.ID != "" && c.Value.ID != ""
}

// StepInput is everything a step was made with; it is what the log keeps.
// Only the fields the step needs are read.
type StepInput struct {
	Step       Step
	By         Person
	At         time.Time
	Text       string        // instruction, reason, ruling, what was seen
	Due        string        // instruct: own due date; defer: until
	Gang       string        // instruct, acknowledge
	PlannedOn  string        // acknowledge
	Ground     DisputeGround // dispute
	Stands     bool          // decide: true = the defect stands, false = it falls
	Inspection string        // close, refuse: "on-site" or "from-photo"
	MadeGood   MakingGood
	Photos     []EvidencePhoto
	Reading    *EvidenceReading
	Concession ConcessionInput
	Severity   Severity    // raise
	Event      string      // defer: the event waited for, when not a date
	Confirmed  bool        // instruct: manager's confirmation is stated when the clerk instructs with cost or time effect
	Access     string      // defer: how the place is reached once the scaffold is gone
	Raise      *RaiseFacts // raise only
	Facts      StepFacts   // what the guards must know besides the snag
}

// RaiseFacts is what a snag starts with, as the catalogue, the wall and the
// person gave it.
type RaiseFacts struct {
	ID              string
	SiteID          string
	Number          int
	Code            string
	Title           string
	Stage           string
	Severity        Severity // the catalogue's
	Quantities      []string // empty = seen, not measured
	Competent       string
	Place           Place
	PlaceWords      string
	WalkRank        int64
	Extent          Extent
	Covered         bool
	Requirement     string
	Gang            string
	NoReadingReason string // why a measured defect has no reading
}

// StepFacts is what a guard must know besides the snag and the person's input.
// It is looked up when the step is taken and kept with it, so that the step can
// be decided again from the log alone. Days are "2006-01-02" in the site's zone.
type StepFacts struct {
	Day        string   // the day of the step
	PeriodEnds string   // reopen: last day of the defects period; "" = not complete yet
	CoveredOn  string   // defer: first cover-up that hides the place; "" = none planned
	CoveredBy  string   // defer: what that cover-up is, in words
	StrikeOn   string   // defer: first scaffold strike at the place; "" = none planned
	Measured   *Decimal // concede: latest measured value of the defect
	Short      bool     // concede: it falls short of a lower limit, so a smaller value is worse
	Unit       string   // concede: unit of Measured
}

// ConcessionInput is the part of a concession that one step adds.
type ConcessionInput struct {
	Part       string // "ask", "grant", "refuse"
	Area       string
	Deviation  *Decimal
	Conditions string
	Expires    string
	Document   string
	From       int
	FromTerms  *Concession // loaded by the use case when From is set
	FromPlace  Place
	FromCode   string
}

// EvidencePhoto is what a guard must know of an offered photo.
type EvidencePhoto struct {
	ID          string
	TakenAt     time.Time // zero = unknown
	TakenSure   bool
	ReceivedAt  time.Time
	ElevationID string
	Grade       Grade
	UsedBy      []int // numbers of snags that already use the same bytes as evidence, with the offer's own round left out
}

// EvidenceReading is what a guard must know of an offered reading.
type EvidenceReading struct {
	ID         string
	Quantity   string
	MeasuredAt time.Time
	Place      Place
	Outcome    Outcome
	Value      Decimal
	ByID       string
	Text       string // "9.6 mm against 7 to 13 mm"
	Withdrawn  bool   // taken back since it was offered
}

// SnagEvent is one line of a snag's history.
type SnagEvent struct {
	Seq    int64
	Input  StepInput
	Device string
	Before State
	After  State
	Round  int // after the step
}

// Due is the date that matters for a snag, and why.
type Due struct {
	On     string // "2006-01-02"; "" = none known
	Reason DueReason
	Text   string // "scaffold strike, bays 1–4"

	MilestoneID string // the planned date it comes from; "" for an instruction
}

// DueReason names the clock that matters.
type DueReason string

// The reasons for a due date.
const (
	NoDue         DueReason = ""
	DueOwn        DueReason = "instruction"
	DueCoverUp    DueReason = "cover-up"
	DueStrike     DueReason = "strike"
	DueCompletion DueReason = "completion"
)

// Release is one answer to a hold point for a stage and an area.
type Release struct {
	ID               string
	SiteID           string
	HoldPoint        string // "H7"
	ElevationID      string
	BayFrom, BayTo   int
	LiftFrom, LiftTo int
	Outcome          ReleaseOutcome
	Text             string // conditions, or reasons of a refusal
	By               Person
	At               time.Time
}

// ReleaseOutcome is how a hold point was answered.
type ReleaseOutcome string

// The outcomes of a hold point.
const (
	Released           ReleaseOutcome = "released"
	ReleasedConditions ReleaseOutcome = "released with conditions"
	ReleaseRefused     ReleaseOutcome = "refused"
	LapsedAfterNotice  ReleaseOutcome = "lapsed after notice"
)
