package register

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"storeyrod/defects"
)

// readingChunk is how many readings share one transaction: enough to make its
// cost small, few enough that another writer does not wait long.
const readingChunk = 200

// staleTries is how often a chunk is taken again when another writer changed a
// set under it.
const staleTries = 3

// ReadingPage is one page of a list of readings. Next is "" on the last page.
type ReadingPage struct {
	Items []defects.Reading
	Next  string
}

// AddReading judges and stores one reading. A value that can hardly be meant is
// answered with kind Question and a guess in Details; sent again with Confirmed
// it is stored as typed. One whose client id the site has is known: the stored
// reading is answered and nothing is written.
func (r *Register) AddReading(ctx context.Context, a Actor, siteID string, in ReadingInput) (ReadingResult, error) {
	in.alone = true
	results, err := r.addChunk(ctx, a, siteID, []ReadingInput{in})
	if err != nil {
		return ReadingResult{Row: in.Row}, err
	}
	if results[0].Err != nil {
		return results[0], results[0].Err
	}
	return results[0], nil
}

// AddReadings judges and stores readings in their order. Each row stands alone:
// a refused one carries its error and the rest goes on. Rows without a number
// get their position, from 1. A row that was stored before, by its client id or
// by all it says, is known and not stored again. The error is for what stops the whole batch, such
// as a missing permission; the results so far come with it.
func (r *Register) AddReadings(ctx context.Context, a Actor, siteID string, in []ReadingInput) ([]ReadingResult, error) {
	if len(in) > maxReadingRows {
		return nil, defects.Refuse(defects.TooLarge, "too_many_rows", fmt.Sprintf("at most %d readings at once", maxReadingRows))
	}
	err := r.Store.Read(ctx, func(tx Tx) error {
		_, err := r.permit(ctx, tx, a, siteID, defects.AddReading)
		return err
	})
	if err != nil {
		return nil, err
	}
	in = numbered(in)
	results := make([]ReadingResult, 0, len(in))
	for chunk := range slices.Chunk(in, readingChunk) {
		part, err := r.addChunk(ctx, a, siteID, chunk)
		if err != nil {
			part, err = r.addSingly(ctx, a, siteID, chunk)
		}
		results = append(results, part...)
		if err != nil {
			return results, err
		}
	}
	return results, nil
}

func numbered(in []ReadingInput) []ReadingInput {
	in = slices.Clone(in)
	for i := range in {
		if in[i].Row == 0 {
			in[i].Row = i + 1
		}
	}
	countRepeats(in)
	return in
}

// addSingly takes the rows of a chunk that could not be stored together one by
// one, so that a fault of one row is its own. When none of them can be stored
// for a reason that is not theirs, the batch stops.
func (r *Register) addSingly(ctx context.Context, a Actor, siteID string, chunk []ReadingInput) ([]ReadingResult, error) {
	results := make([]ReadingResult, 0, len(chunk))
	var last error
	stored := false
	for _, row := range chunk {
		part, err := r.addChunk(ctx, a, siteID, []ReadingInput{row})
		if ctx.Err() != nil {
			return results, fmt.Errorf("add readings: %w", ctx.Err())
		}
		if err != nil {
			last = err
			results = append(results, ReadingResult{Row: row.Row, Err: rowRefusal(err)})
			continue
		}
		stored = true
		results = append(results, part...)
	}
	if !stored && last != nil {
		return results, fmt.Errorf("add readings: %w", last)
	}
	return results, nil
}

// addChunk takes rows in one transaction. Its error is for the chunk as a
// whole; then nothing of it is stored.
func (r *Register) addChunk(ctx context.Context, a Actor, siteID string, chunk []ReadingInput) (results []ReadingResult, err error) {
	for range staleTries {
		err = r.Store.Write(ctx, func(tx Tx) error {
			results, err = r.addIn(ctx, tx, a, siteID, chunk)
			return err
		})
		if !errors.Is(err, defects.Stale) {
			break
		}
	}
	if err != nil {
		return nil, err
	}
	return results, nil
}

func (r *Register) addIn(ctx context.Context, tx Tx, a Actor, siteID string, chunk []ReadingInput) ([]ReadingResult, error) {
	m, err := r.permit(ctx, tx, a, siteID, defects.AddReading)
	if err != nil {
		return nil, err
	}
	b, err := r.bench(ctx, tx, a, m, siteID, chunk)
	if err != nil {
		return nil, err
	}
	results := make([]ReadingResult, 0, len(chunk))
	var sets []string
	for _, row := range chunk {
		rd, err := b.reading(row)
		if err != nil {
			results = append(results, ReadingResult{Row: row.Row, Err: rowRefusal(err)})
			continue
		}
		before, err := storedBefore(ctx, tx, m, rd, row)
		if refused, ok := asError(err); ok && refused.Kind == defects.Conflict {
			results = append(results, ReadingResult{Row: row.Row, Err: refused})
			continue
		}
		if err != nil {
			return nil, err
		}
		if before != nil {
			results = append(results, ReadingResult{Row: row.Row, Reading: *before, Known: true, FollowUp: followUpOf(*before)})
			continue
		}
		b.judge(&rd)
		rd.ID, rd.Version = r.NewID(), 1
		if err := tx.Readings().InsertReading(ctx, rd); err != nil {
			return nil, err
		}
		if err := r.note(ctx, tx, a, m, siteID, addedEvent(rd)); err != nil {
			return nil, err
		}
		sets = append(sets, rd.SetID)
		results = append(results, ReadingResult{Row: row.Row, Reading: rd, FollowUp: followUpOf(rd)})
	}
	return results, r.judgeSets(ctx, tx, b, sets...)
}

// Reading is one reading of a site. An operative sees those of his gang and his
// own.
func (r *Register) Reading(ctx context.Context, a Actor, siteID, id string) (defects.Reading, error) {
	var rd defects.Reading
	err := r.Store.Read(ctx, func(tx Tx) error {
		m, err := r.permit(ctx, tx, a, siteID, defects.ViewSite)
		if err != nil {
			return err
		}
		rd, err = tx.Readings().Reading(ctx, siteID, id)
		if err != nil {
			return err
		}
		return mayRead(m, rd)
	})
	if err != nil {
		return defects.Reading{}, err
	}
	return rd, nil
}

// mayRead hides another gang's reading from an operative as if it were not
// there.
func mayRead(m defects.Membership, rd defects.Reading) error {
	own := rd.ByID == m.AccountID || rd.EnteredBy == m.AccountID || (m.Gang != "" && rd.Gang == m.Gang)
	if m.Role != defects.Operative || own {
		return nil
	}
	return defects.RefuseField(defects.NotFound, "reading", "reading_not_found", "no such reading on this site")
}

// ListReadings lists a site's readings, newest measured first. An operative's
// list is his gang's.
func (r *Register) ListReadings(ctx context.Context, a Actor, f ReadingFilter, page Page) (ReadingPage, error) {
	var out ReadingPage
	err := r.Store.Read(ctx, func(tx Tx) error {
		m, err := r.permit(ctx, tx, a, f.SiteID, defects.ViewSite)
		if err != nil {
			return err
		}
		if !forceGang(m, &f.Gang) {
			return nil
		}
		out.Items, out.Next, err = pageOf(page, func(p Page) ([]defects.Reading, error) {
			return tx.Readings().ListReadings(ctx, f, p)
		}, CursorOfReading)
		return err
	})
	return out, err
}

// forceGang narrows a filter to an operative's own gang and reports whether
// anything can be left. An empty gang would mean all of them.
func forceGang(m defects.Membership, gang *string) bool {
	if m.Role != defects.Operative {
		return true
	}
	if m.Gang == "" || (*gang != "" && *gang != m.Gang) {
		return false
	}
	*gang = m.Gang
	return true
}

// WithdrawReading takes a reading out of the count with a reason; it stays in
// the register, and nobody edits one. Who measured or entered it may, and those
// with the permission for another's. Its set is judged anew, and each snag that
// rests on it says so. One that a snag was closed on answers Conflict
// reading_in_use: the snag is reopened first.
func (r *Register) WithdrawReading(ctx context.Context, a Actor, siteID, id string, version int, reason string) (defects.Reading, error) {
	reason, err := neededReason(reason)
	if err != nil {
		return defects.Reading{}, err
	}
	var after defects.Reading
	err = r.Store.Write(ctx, func(tx Tx) error {
		m, err := r.member(ctx, tx, a, siteID)
		if err != nil {
			return err
		}
		before, err := withdrawable(ctx, tx, m, siteID, id, version)
		if err != nil {
			return err
		}
		after = before
		after.Withdrawn = reason
		if err := tx.Readings().UpdateReading(ctx, after); err != nil {
			return err
		}
		after.Version++
		if err := r.note(ctx, tx, a, m, siteID, withdrawnEvent(after)); err != nil {
			return err
		}
		if err := r.tellSnags(ctx, tx, a, m, after); err != nil {
			return err
		}
		if after.SetID == "" {
			return nil
		}
		b, err := r.bench(ctx, tx, a, m, siteID, nil)
		if err != nil {
			return err
		}
		return r.judgeSets(ctx, tx, b, after.SetID)
	})
	return after, err
}

// withdrawable loads a reading that the member may withdraw.
func withdrawable(ctx context.Context, tx Tx, m defects.Membership, siteID, id string, version int) (defects.Reading, error) {
	rd, err := tx.Readings().Reading(ctx, siteID, id)
	if err != nil {
		return rd, err
	}
	if err := mayRead(m, rd); err != nil {
		return rd, err
	}
	own := rd.ByID == m.AccountID || rd.EnteredBy == m.AccountID
	if !m.Role.May(defects.WithdrawReading) && !(own && m.Role.May(defects.AddReading)) {
		return rd, defects.RefuseRole(string(m.Role), string(defects.WithdrawReading), defects.RoleNames(defects.WhoMay(defects.WithdrawReading)))
	}
	if rd, err = standingReading(ctx, tx, siteID, id, version); err != nil {
		return rd, err
	}
	return rd, notClosedOn(ctx, tx, rd)
}
