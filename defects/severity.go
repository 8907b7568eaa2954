package defects

// Severity is the class of seriousness (the classes of ISO 2859, from memory).
type Severity string

// The three classes.
const (
	Critical Severity = "critical" // may hurt people, or fail in strength, fire, gas or electrics
	Major    Severity = "major"    // shortens life, lets in water, loses insulation, voids the warranty
	Minor    Severity = "minor"    // looks, or a small departure without effect on use
)

// Severities lists them from the worst down.
func Severities() []Severity { return []Severity{Critical, Major, Minor} }

// Known reports whether s is one of Severities.
func (s Severity) Known() bool { return s.rank() > 0 }

// Outranks reports whether s is worse than o.
func (s Severity) Outranks(o Severity) bool { return s.rank() > o.rank() }

func (s Severity) rank() int {
	switch s {
	case Critical:
		return 3
	case Major:
		return 2
	case Minor:
		return 1
	}
	return 0
}
