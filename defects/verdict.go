package defects

// Outcome is the answer of a verdict, in the wording of ILAC-G8:09/2019 (from
// memory).
type Outcome string

// The outcomes.
const (
	Pass            Outcome = "pass"
	ConditionalPass Outcome = "conditional-pass" // within the limit, closer to it than the guard band
	ConditionalFail Outcome = "conditional-fail" // beyond the limit, by less than the guard band
	Fail            Outcome = "fail"
	NoVerdict       Outcome = "none" // something its limit needs is missing; Reason says what
)

// Rule is a decision rule: how uncertainty is used in a verdict.
type Rule string

// The decision rules.
const (
	Simple  Rule = "simple"   // the limit as it stands
	Guarded Rule = "guarded"  // the limit moved inwards by the guard band
	FourWay Rule = "four-way" // pass, conditional-pass, conditional-fail, fail
)

// Rules lists them; FourWay is the default of a new site.
func Rules() []Rule { return []Rule{Simple, Guarded, FourWay} }

// Known reports whether r is one of Rules.
func (r Rule) Known() bool { return r == Simple || r == Guarded || r == FourWay }

// Basis says how a figure is known.
type Basis string

// The bases, from the strongest down.
const (
	Read           Basis = "read"            // read in the issuer's own text
	Secondary      Basis = "secondary"       // read in a text that quotes it
	Memory         Basis = "memory"          // recalled; shown as unverified
	CommonPractice Basis = "common-practice" // trade habit, no source
	Project        Basis = "project"         // agreed for this project
)

// Verdict is the result of one rule on one reading or set, with everything
// that is needed to repeat it. Lower and Upper are the limit as it applies to
// this reading (after base length, zone and so on), in the reading's unit.
type Verdict struct {
	Outcome    Outcome
	Reason     string // stable word; why there is none, or what weakens it
	ReasonText string // the same in plain English
	Lower      *Decimal
	Upper      *Decimal
	Expanded   *Decimal // U (k = 2) used
	Guard      *Decimal // w used
	PConform   *float64 // p_c of JCGM 106; nil when it cannot be computed
	Rule       Rule
	Schedule   string // name@version of the schedule
	Title      string // publication
	Edition    string
	Clause     string
	Line       string
	Basis      Basis
	Warning    string       // what a warning limit says; it never changes the outcome
	PassedOver []PassedOver // limits of schedules that another in force goes before
}

// BasisWords is the basis as tables show it; a recalled figure is marked.
func (v Verdict) BasisWords() string {
	if v.Unverified() {
		return string(v.Basis) + " (unverified)"
	}
	return string(v.Basis)
}

// Unverified reports that the limit rests on memory alone.
func (v Verdict) Unverified() bool { return v.Basis == Memory }
