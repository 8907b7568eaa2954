package defects

// LimitKind says how the figure of a limit comes about.
type LimitKind string

// The kinds of limit, and the fields of Limit each one uses.
const (
	// FixedLimit: Lower and Upper as they stand; either may be absent.
	FixedLimit LimitKind = "fixed"
	// SteppedLimit: the figure of the first of Steps whose UpTo is not
	// exceeded by the base length.
	SteppedLimit LimitKind = "stepped"
	// InterpolatedLimit: straight line between Steps by base length; the last
	// figure holds beyond the last column. Whole rounds half up to whole
	// units.
	InterpolatedLimit LimitKind = "interpolated"
	// ListedLimit: the figure of the one of Steps whose UpTo equals the base
	// length; no figure for any other length.
	ListedLimit LimitKind = "listed"
	// ProRataLimit: Figure at the base length PerLength, in proportion below
	// it, Beyond above it.
	ProRataLimit LimitKind = "pro-rata"
	// NominalLimit: Lower and Upper are departures from the nominal value
	// stated with the reading (design width, sample panel).
	NominalLimit LimitKind = "nominal"
	// LargerOfLimit: the larger of Figure and Percent of the nominal value,
	// both ways from the nominal.
	LargerOfLimit LimitKind = "larger-of"
	// DensityLimit: at least PerArea pieces per square metre on a board of the
	// stated area, rounded up to whole pieces.
	DensityLimit LimitKind = "density"
	// MeanOfEightLimit: each of a set within Figure of the mean of any eight
	// successive ones.
	MeanOfEightLimit LimitKind = "mean-of-eight"
	// SetMinimumLimit: each of a set at least Lower, and their mean at least
	// MeanLower.
	SetMinimumLimit LimitKind = "set-minimum"
	// PerNominalLimit: at least Figure for each unit of the nominal value stated
	// with the reading (days of drying for each millimetre of coat).
	PerNominalLimit LimitKind = "per-nominal"
	// InverseNominalLimit: at least the larger of Lower and Figure divided by the
	// nominal value (bonded area by the strength of adhesive to insulation).
	InverseNominalLimit LimitKind = "inverse-nominal"
	// RisingLimit: at least Lower; below RisingBelow only while rising; at most
	// Upper, if there is one.
	RisingLimit LimitKind = "rising"
	// DewPointLimit: at least Figure kelvin above the dew point of the air.
	DewPointLimit LimitKind = "dew-point"
	// PullOutLimit: characteristic resistance of a set by PullOut.
	PullOutLimit LimitKind = "pull-out"
)

// LimitKinds lists them.
func LimitKinds() []LimitKind {
	return []LimitKind{
		FixedLimit, SteppedLimit, InterpolatedLimit, ListedLimit, ProRataLimit, NominalLimit,
		LargerOfLimit, DensityLimit, PerNominalLimit, InverseNominalLimit, RisingLimit, DewPointLimit,
		MeanOfEightLimit, SetMinimumLimit, PullOutLimit,
	}
}

// ForSet reports whether the kind judges a set of readings, not a single one.
func (k LimitKind) ForSet() bool {
	return k == MeanOfEightLimit || k == SetMinimumLimit || k == PullOutLimit
}

// LimitStep is one column of a table by base length. UpTo is in metres, nil
// means any longer length; a nil Figure says that the table gives none there.
type LimitStep struct {
	UpTo   *Decimal
	Figure *Decimal
}

// Limit is one requirement of a schedule: which readings it is for, its
// figures in the quantity's own unit, and where it comes from.
type Limit struct {
	Quantity string
	Kind     LimitKind

	// Conditions. Empty or zero means any; a limit with more conditions goes
	// before one with fewer.
	Zone    Zone
	Stage   string
	Courses int
	Mode    string // moisture meter mode

	// ExceptPlane passes a value below Lower when the failure plane is this
	// one, wholly ("insulation": 0.08 N/mm², or failure in the insulation).
	ExceptPlane string

	Lower     *Decimal
	Upper     *Decimal
	Steps     []LimitStep
	BothWays  bool // figures hold on both sides of zero
	Whole     bool // interpolated: rounded half up to whole units
	Figure    *Decimal
	PerLength *Decimal // metres
	Beyond    *Decimal // nil = none beyond PerLength
	Percent   *Decimal
	PerArea   *Decimal // 1/m²
	MeanLower *Decimal
	PullOut   *PullOutRule

	RisingBelow *Decimal // at and above it the trend is not asked
	Warning     bool     // is told beside a verdict and never decides one

	// Source. Title, Edition and Basis fall back on the schedule's.
	Title   string
	Edition string
	Clause  string
	Line    string
	Basis   Basis
	Note    string

	// Of a line taken over into a project's schedule: From is the line it comes
	// from (name@version#line), Reason why its figures were changed.
	From   string
	Reason string
}
