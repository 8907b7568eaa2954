package defects

// Replay folds a snag's events, the raise first, into the snag.
func Replay(events []SnagEvent) (Snag, error) {
	return Snag{}, Refuse(Unavailable, "", "not written yet")
}
