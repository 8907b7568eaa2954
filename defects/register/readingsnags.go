package register

import (
	"context"

	"storeyrod/defects"
)

// notClosedOn refuses to take back a reading that a snag was closed on: the
// acceptance rests on it.
func notClosedOn(ctx context.Context, tx Tx, rd defects.Reading) error {
	snags, err := snagsOn(ctx, tx, rd)
	if err != nil {
		return err
	}
	for _, s := range snags {
		if s.State == defects.Closed && s.OfferReading == rd.ID {
			return defects.Refuse(defects.Conflict, "reading_in_use",
				s.Ref()+" was closed on this reading; reopen "+s.Ref()+" first")
		}
	}
	return nil
}

// snagsOn are the snags that were raised from a reading or offered with it.
func snagsOn(ctx context.Context, tx Tx, rd defects.Reading) ([]defects.Snag, error) {
	return tx.Snags().ListSnags(ctx, SnagFilter{SiteID: rd.SiteID, ReadingID: rd.ID}, everything())
}

// tellSnags notes on each snag that rests on a reading that it was taken back.
// An offer made with it stays as it was sent, but cannot be closed any more.
func (r *Register) tellSnags(ctx context.Context, tx Tx, a Actor, m defects.Membership, rd defects.Reading) error {
	snags, err := snagsOn(ctx, tx, rd)
	if err != nil {
		return err
	}
	seen := evidenceReading(rd)
	for _, s := range snags {
		step := defects.StepInput{
			Step: defects.NoteReadingWithdrawn, By: person(a, m), At: r.Now(), Text: rd.Withdrawn, Reading: &seen,
		}
		next := defects.NoteWithdrawn(s, step)
		if err := tx.Snags().UpdateSnag(ctx, next); err != nil {
			return err
		}
		next.Version++
		if err := r.note(ctx, tx, a, m, s.SiteID, snagEvent(s, next, step)); err != nil {
			return err
		}
	}
	return nil
}
