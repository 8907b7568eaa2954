package models

import (
	"context"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

// copies implements register.Copies. All of it stands in the rows of photos.
type copies struct{ *tx }

// signed and unsigned are the same 64 bits: databases have signed numbers only.
func signed(bits *uint64) *int64 {
	if bits == nil {
		return nil
	}
	v := int64(*bits)
	return &v
}

func unsigned(v *int64) *uint64 {
	if v == nil {
		return nil
	}
	bits := uint64(*v)
	return &bits
}

// numberRow is one number that a query counts.
type numberRow struct{ Number int64 }

func (numberRow) TableName() string { return "photos" }

// nextCopies is the number of the site's next change of view copies. A site has
// one writer at a time (tx.enter), so a greater number is always committed later.
func nextCopies(ctx context.Context, t *tx, siteID string) (int64, error) {
	r, err := one[numberRow](ctx, t, "site", sqlText("SELECT COALESCE(MAX(copies_seq), 0) + 1 AS number FROM photos WHERE site_id = ?", siteID))
	return r.Number, err
}

func (c copies) SetCopies(ctx context.Context, siteID, photoID string, s register.CopiesState) (err error) {
	defer wrap("set view copies", &err)
	if err := c.enter(ctx, siteID); err != nil {
		return err
	}
	seq, err := nextCopies(ctx, c.tx, siteID)
	if err != nil {
		return err
	}
	q := sqlText("UPDATE photos SET derived = ?, copies_seq = ?, copies_at = ?", s.Derived, seq, micros(s.At))
	if s.Likeness != nil {
		q.add(", likeness = ?", *signed(s.Likeness))
	}
	q.add(" WHERE site_id = ? AND id = ?", siteID, photoID)
	n, err := exec(ctx, c.tx, q)
	if err == nil && n == 0 {
		return notFound("photo")
	}
	return err
}

func (c copies) LastChange(ctx context.Context, siteID string) (_ int64, err error) {
	defer wrap("last change of view copies", &err)
	next, err := nextCopies(ctx, c.tx, siteID)
	return next - 1, err
}

func (c copies) Changed(ctx context.Context, siteID string, after int64, limit int) (_ []defects.Photo, err error) {
	defer wrap("changed view copies", &err)
	q := from[photoRow](c.tx)
	q.add(" WHERE site_id = ? AND copies_seq > ? ORDER BY copies_seq", siteID, after)
	q.limit(limit)
	rows, err := list[photoRow](ctx, c.tx, q)
	if err != nil {
		return nil, err
	}
	return convert(rows, photoRow.photo)
}

// likenessRow is what the index of likenesses keeps of a photo.
type likenessRow struct {
	CopiesSeq int64
	Likeness  int64
}

func (likenessRow) TableName() string { return "photos" }

func (c copies) Likenesses(ctx context.Context, siteID string, after int64, limit int) (_ []register.Likeness, err error) {
	defer wrap("likenesses", &err)
	q := from[likenessRow](c.tx)
	q.add(" WHERE site_id = ? AND copies_seq > ? AND likeness IS NOT NULL ORDER BY copies_seq", siteID, after)
	q.limit(limit)
	rows, err := list[likenessRow](ctx, c.tx, q)
	out := make([]register.Likeness, len(rows))
	for i, r := range rows {
		out[i] = register.Likeness{Seq: r.CopiesSeq, Bits: uint64(r.Likeness)}
	}
	return out, err
}

func (c copies) PhotosAt(ctx context.Context, siteID string, seqs []int64) (_ []defects.Photo, err error) {
	defer wrap("photos by change", &err)
	if len(seqs) == 0 {
		return nil, nil
	}
	q := from[photoRow](c.tx)
	q.add(" WHERE site_id = ? AND copies_seq IN ?", siteID, seqs)
	rows, err := list[photoRow](ctx, c.tx, q)
	if err != nil {
		return nil, err
	}
	return convert(rows, photoRow.photo)
}
