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
		if e.Input.Step == NoteReadingWithdrawn {
			s = NoteWithdrawn(s, e.Input)
			s.Version++
			continue
		}
		if s, err = Apply(s, e.Input); err != nil {
			return Snag{}, fmt.Errorf("replay event %d, %s: %w", i+2, e.Input.Step, err)
		}
		s.Version++
	}
	return s, nil
}

// NoteReadingWithdrawn stands in a snag's history where a reading that the snag
// rests on was taken back. It is no step: nobody takes it with the snag.
const NoteReadingWithdrawn Step = "reading-withdrawn"

// NoteWithdrawn marks a snag after a reading was withdrawn, with the reason in
// Text. The state stays: the defect was seen, and somebody must decide.
func NoteWithdrawn(s Snag, in StepInput) Snag {
	if in.Reading != nil && in.Reading.ID == s.ReadingID {
		s.ReadingText += " (reading withdrawn: " + in.Text + ")"
	}
	return s
}

// ForManager reports whether the manager is to be told of an event: the second
// refusal of a snag, and each one after it.
func (e SnagEvent) ForManager() bool { return e.Input.Step == StepRefuse && e.Round >= 3 }
