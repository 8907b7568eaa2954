package defects

// Raise makes a snag from its first step; in.Raise must be set.
func Raise(in StepInput) (Snag, error) {
	return Snag{}, Refuse(Unavailable, "", "not written yet")
}

// Apply takes one step with a snag and answers the snag as it then stands. It
// changes nothing of s. Refusals are *Error with a code.
func Apply(s Snag, in StepInput) (Snag, error) {
	return s, Refuse(Unavailable, "", "not written yet")
}

// StepChoice tells whether somebody may take a step now and, when not, why.
type StepChoice struct {
	Step Step
	May  bool
	Why  string // who may, or what stands in the way; "" when May
}

// StepsFor answers for each of Steps whether a person may take it with s now.
func StepsFor(s Snag, p Person) []StepChoice { return nil }
