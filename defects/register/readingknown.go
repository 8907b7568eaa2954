package register

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"storeyrod/defects"
)

// storedBefore finds the reading that an input repeats, so that a file or a
// request sent again writes nothing twice; nil when it is new. The client's own
// id decides. Without one it is a reading of the same quantity, value, unit,
// place, instrument, person and stated time; then the n-th like row of a file
// is the n-th like reading stored, since equal readings in one bay are no
// mistake. A withdrawn reading counts too: sending it again does not bring it
// back.
func storedBefore(ctx context.Context, tx Tx, m defects.Membership, rd defects.Reading, in ReadingInput) (*defects.Reading, error) {
	if rd.ClientID != "" {
		return knownByID(ctx, tx, m, rd)
	}
	if in.alone || strings.TrimSpace(in.MeasuredAt) == "" {
		return nil, nil
	}
	before, err := tx.Readings().SameReading(ctx, rd, in.Repeat)
	if errors.Is(err, defects.NotFound) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	if mayRead(m, before) != nil {
		return nil, nil // another gang's, of which nothing is told
	}
	return &before, nil
}

func knownByID(ctx context.Context, tx Tx, m defects.Membership, rd defects.Reading) (*defects.Reading, error) {
	before, err := tx.Readings().ReadingByClientID(ctx, rd.SiteID, rd.ClientID)
	if errors.Is(err, defects.NotFound) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	if mayRead(m, before) != nil {
		return nil, defects.RefuseField(defects.Conflict, "id", "id_taken", "another reading of this site has this id")
	}
	if before.Quantity != rd.Quantity || before.Value.Cmp(rd.Value) != 0 || before.Unit != rd.Unit {
		return nil, defects.RefuseField(defects.Conflict, "id", "id_taken",
			fmt.Sprintf("another reading of this site has this id: %s of %s", defects.ReadingWords(before), before.Quantity))
	}
	return &before, nil
}

// rowLike is what makes two rows of a file alike before they are understood.
type rowLike struct {
	quantity, value, observations, unit, elevation, x, z, opening, zone, at, tool, by string
	bay, lift                                                                         int
}

// countRepeats numbers rows that say the same, each among those before it. A
// number that came with the row, from a part of a longer file, stays.
func countRepeats(in []ReadingInput) {
	seen := map[rowLike]int{}
	for i := range in {
		row := &in[i]
		if row.ID != "" || row.MeasuredAt == "" {
			continue
		}
		k := rowLike{
			row.Quantity, strings.TrimSpace(row.Value), row.Observations, row.Unit, row.ElevationID, row.X, row.Z, row.Opening, row.Zone, row.MeasuredAt,
			row.InstrumentID, row.ByLogin, row.Bay, row.Lift,
		}
		row.Repeat = max(row.Repeat, seen[k])
		seen[k] = row.Repeat + 1
	}
}
