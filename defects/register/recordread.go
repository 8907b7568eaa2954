package register

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"storeyrod/defects"
	"storeyrod/evidence"
)

// ImportSite takes the record of a site into this instance, all of it or, with
// faults in the sum, nothing. Ids, hashes, versions and the bytes of the log stay
// as they are. People of the site who have no account here get one that is
// disabled and has no password, under the same id and login; nobody's rights
// elsewhere change.
func (r *Register) ImportSite(ctx context.Context, a Actor, b *evidence.Bundle, tell func()) (RecordSum, error) {
	return r.readRecord(ctx, a, b, scopeSite, tell)
}

// Restore takes a backup into an instance that was never used. Bytes that were
// changed or are missing refuse it: then the sum has faults and nothing was
// taken. What the log does not account for does not refuse it, since a backup
// may be all there is left: then Sites is above 0 and the faults are told.
func (r *Register) Restore(ctx context.Context, a Actor, b *evidence.Bundle, tell func()) (RecordSum, error) {
	return r.readRecord(ctx, a, b, scopeInstance, tell)
}

// recordReader is one record being read.
type recordReader struct {
	about     recordAbout
	from      *evidence.Bundle
	originals map[string]string // path by SHA-256
	given     map[string]int64  // greatest snag number by site
	sum       RecordSum
}

// errUndo ends a trial run.
var errUndo = errors.New("taken back after a trial")

func (r *Register) readRecord(ctx context.Context, a Actor, b *evidence.Bundle, scope string, tell func()) (RecordSum, error) {
	if err := operatorOnly(a); err != nil {
		return RecordSum{}, err
	}
	faults, err := b.Check(ctx, tell)
	if err != nil {
		return RecordSum{}, err
	}
	rec := &recordReader{from: b, originals: map[string]string{}}
	for _, f := range faults {
		rec.wrong(f.File, defects.Refuse(defects.Invalid, f.Code, f.Text))
	}
	if len(faults) == 0 {
		rec.outline(scope)
	}
	if len(rec.sum.Faults) > 0 {
		return rec.sum, nil
	}
	// Once on trial, so that no original is kept of a record that is refused.
	err = r.Store.Write(ctx, func(tx Tx) error {
		if err := r.load(ctx, tx, a, rec); err != nil {
			return err
		}
		return errUndo
	})
	if !errors.Is(err, errUndo) {
		return rec.sum, rec.ended(err)
	}
	if err := r.keepOriginals(ctx, rec); err != nil {
		return rec.sum, err
	}
	err = r.Store.Write(ctx, func(tx Tx) error { return r.load(ctx, tx, a, rec) })
	if err != nil {
		return rec.sum, rec.ended(err)
	}
	return rec.sum, r.verifyOriginals(ctx, rec)
}

// errRefused ends a transaction whose faults are in the sum.
var errRefused = errors.New("the record has faults")

// ended is the error of a run whose refusals are told as faults.
func (rec *recordReader) ended(err error) error {
	if errors.Is(err, errRefused) {
		rec.sum = RecordSum{Faults: rec.sum.Faults} // nothing was taken
		return nil
	}
	return err
}

// refused reports faults that keep a record out.
func (rec *recordReader) refused() bool {
	return slices.ContainsFunc(rec.sum.Faults, func(f RecordFault) bool {
		return rec.about.Scope == scopeSite || f.Code != "not_as_logged"
	})
}

// wrong notes what is wrong with a file. An error that is nobody's fault is
// answered again.
func (rec *recordReader) wrong(file string, err error) error {
	var refusal *defects.Error
	switch {
	case errors.As(err, &refusal) && refusal.Kind != defects.Unavailable:
		rec.sum.Faults = append(rec.sum.Faults, RecordFault{file, refusal.CodeOrKind(), refusal.Error()})
	case errors.Is(err, evidence.ErrDamaged):
		rec.sum.Faults = append(rec.sum.Faults, RecordFault{file, "changed_file", err.Error()})
	case errors.Is(err, evidence.ErrEntry), errors.Is(err, evidence.ErrJSON):
		rec.sum.Faults = append(rec.sum.Faults, RecordFault{file, "bad_entry", err.Error()})
	default:
		return err
	}
	return nil
}

// outline reads what the record says of itself and looks at the names of its
// files.
func (rec *recordReader) outline(scope string) {
	about, err := readAbout(rec.from)
	if err == nil && about.Scope != scope {
		err = badRow("other_scope", "is of scope "+about.Scope+": the record of a site is imported, a backup restored")
	}
	if err != nil {
		_ = rec.wrong(aboutName, err) // always a refusal
		return
	}
	rec.about = about
	rec.sum.SiteID, rec.sum.SiteName = about.Site, about.Name
	for _, name := range rec.from.Names() {
		m := originalName.FindStringSubmatch(name)
		switch {
		case m != nil && (string(rec.from.Sum(name)) != m[1] || rec.originals[m[1]] != "" || !strings.HasPrefix(name, "originals/"+m[1][:2]+"/")):
			_ = rec.wrong(name, badRow("bad_name", "is not named by the hash of its bytes, or is there twice"))
		case m != nil:
			rec.originals[m[1]] = name
		case name == aboutName, name == peopleName && scope == scopeSite, otherNames.MatchString(name):
		case strings.HasPrefix(name, "tables/"), strings.HasSuffix(name, logName): // held to the tables and logs that there are
		default:
			_ = rec.wrong(name, badRow("unknown_file", "belongs to no record"))
		}
	}
}

// keepOriginals stores the originals, each under the hash of its own bytes.
func (r *Register) keepOriginals(ctx context.Context, rec *recordReader) error {
	for sha := range rec.originals {
		if err := r.keepOriginal(ctx, rec, sha); err != nil {
			return err
		}
	}
	return nil
}

func (r *Register) keepOriginal(ctx context.Context, rec *recordReader, sha string) error {
	name := rec.originals[sha]
	file, err := rec.from.Open(name)
	if err != nil {
		return err
	}
	got, err := r.Blobs.Put(ctx, file, rec.from.Size(name))
	if err = errors.Join(err, file.Close()); err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	if string(got.Ref) != sha {
		return fmt.Errorf("%s: %w", name, evidence.ErrDamaged)
	}
	return nil
}

// verifyOriginals reads what was stored back and hashes it, now that the rows
// are durable. An original that another process took back before it could see
// its row is kept once more.
func (r *Register) verifyOriginals(ctx context.Context, rec *recordReader) error {
	for sha := range rec.originals {
		err := r.verifyOriginal(ctx, sha)
		if errors.Is(err, evidence.ErrNotFound) {
			if err = r.keepOriginal(ctx, rec, sha); err == nil {
				err = r.verifyOriginal(ctx, sha)
			}
		}
		if err != nil {
			return err
		}
		rec.sum.Photos++
	}
	return nil
}

func (r *Register) verifyOriginal(ctx context.Context, sha string) error {
	file, size, err := r.Blobs.Open(ctx, evidence.Ref(sha))
	if err != nil {
		return err
	}
	got, _, err := evidence.HashCopy(ctx, io.Discard, file, size)
	if err = errors.Join(err, file.Close()); err != nil {
		return err
	}
	if string(got) != sha {
		return fmt.Errorf("original %s reads back otherwise: %w", sha, evidence.ErrDamaged)
	}
	return nil
}
