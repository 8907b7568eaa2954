package defects

import "fmt"

// Replay folds a snag's events, the raise first and the rest in their order,
// into the snag. It gives the stored snag again; only WalkRank and PlaceWords
// may differ when the elevation was changed since, and with them the version.
// An event that its guards refuse is an error: such a history was never made.
func Replay(events []SnagEvent) (Snag, error) {
	if len(events) == 0 {
		return Snag{}, Refuse(NotFound, "no_history", "a snag without events is none")
	}
	s, err := Raise(events[0].Input)
	if err != nil {
		return Snag{}, fmt.Errorf("replay event 1: %w", err)
	}
	for i, e := range events[1:] {
		if s, err = Apply(s, e.Input); err != nil {
			return Snag{}, fmt.Errorf("replay event %d, %s: %w", i+2, e.Input.Step, err)
		}
		s.Version++
	}
	return s, nil
}

// ForManager reports whether the manager is to be told of an event: the second
// refusal of a snag, and each one after it.
func (e SnagEvent) ForManager() bool { return e.Input.Step == StepRefuse && e.Round >= 3 }
