package register

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"

	"storeyrod/defects"
	"storeyrod/evidence"
)

// ExportSite writes the record of a site: everything but accounts and their
// secrets. Faults of the sum are originals that are lost or damaged and what the
// log does not account for; the record is written all the same and names what
// is missing. The caller closes w, or abandons it after an error.
func (r *Register) ExportSite(ctx context.Context, a Actor, siteID string, w *evidence.BundleWriter, tell func()) (RecordSum, error) {
	return r.writeRecord(ctx, a, recordAbout{Scope: scopeSite, Site: siteID}, w, tell)
}

// Backup writes the record of the whole instance, with accounts and the hashes
// of passwords and tokens. Rows come from one snapshot, taken after the call
// began; originals never change and are copied after it. Faults and w as in
// ExportSite.
func (r *Register) Backup(ctx context.Context, a Actor, w *evidence.BundleWriter, tell func()) (RecordSum, error) {
	return r.writeRecord(ctx, a, recordAbout{Scope: scopeInstance}, w, tell)
}

// recordWriter is one record being written.
type recordWriter struct {
	about     recordAbout
	to        *evidence.BundleWriter
	originals map[string]string // ending by SHA-256
	sum       RecordSum
}

func (r *Register) writeRecord(ctx context.Context, a Actor, about recordAbout, w *evidence.BundleWriter, tell func()) (RecordSum, error) {
	if err := operatorOnly(a); err != nil {
		return RecordSum{}, err
	}
	about.Format, about.Version = recordFormat, recordVersion
	rec := &recordWriter{about: about, to: w, originals: map[string]string{}}
	err := r.Store.Read(ctx, func(tx Tx) error { return rec.rows(ctx, tx) })
	if err != nil {
		return rec.sum, err
	}
	if err := r.writeOriginals(ctx, rec, tell); err != nil {
		return rec.sum, err
	}
	if err := rec.text(ctx, "README.txt", recordReadme(rec.about)); err != nil {
		return rec.sum, err
	}
	said, err := json.MarshalIndent(rec.about, "", "  ")
	if err != nil {
		return rec.sum, err
	}
	return rec.sum, rec.text(ctx, aboutName, string(said)+"\n")
}

func (w *recordWriter) text(ctx context.Context, name, text string) error {
	_, err := w.to.File(ctx, name, func(out io.Writer) error {
		_, err := io.WriteString(out, text)
		return err
	})
	return err
}

// rows writes everything that is in the database.
func (w *recordWriter) rows(ctx context.Context, tx Tx) (err error) {
	if w.about.Schema, err = tx.Archive().Schema(ctx); err != nil {
		return err
	}
	sites := []string{w.about.Site}
	if w.about.Scope == scopeInstance {
		if sites, err = tx.Archive().Logs(ctx); err != nil {
			return err
		}
	} else {
		site, err := tx.Sites().Site(ctx, w.about.Site)
		if err != nil {
			return err
		}
		w.about.Name = site.Name
		if err := w.people(ctx, tx); err != nil {
			return err
		}
	}
	tables, err := tx.Archive().Tables(ctx, w.about.Site)
	if err != nil {
		return err
	}
	for _, t := range tables {
		if err := w.table(ctx, tx, t); err != nil {
			return err
		}
	}
	for _, id := range sites {
		if err := w.site(ctx, tx, id); err != nil {
			return err
		}
	}
	w.sum.SiteID, w.sum.SiteName = w.about.Site, w.about.Name
	return nil
}

func (w *recordWriter) table(ctx context.Context, tx Tx, t Table) error {
	_, err := w.to.File(ctx, tablePath(t.Name), func(out io.Writer) error {
		var line bytes.Buffer
		return tx.Archive().Rows(ctx, t, w.about.Site, func(row Row) error {
			line.Reset()
			if err := encodeRow(&line, t, row); err != nil {
				return err
			}
			_, err := out.Write(line.Bytes())
			return err
		})
	})
	return err
}

// site writes the log of a site, and what people read.
func (w *recordWriter) site(ctx context.Context, tx Tx, id string) error {
	path := w.about.sitePath(id)
	_, err := w.to.File(ctx, path+logName, func(out io.Writer) error {
		return entries(ctx, tx, id, func(e []byte) error {
			w.sum.Entries++
			_, err := out.Write(append(slices.Clone(e), '\n'))
			return err
		})
	})
	if err != nil || id == InstanceLog {
		return err
	}
	w.sum.Sites++
	mismatches, err := replayLog(ctx, tx, id)
	if err != nil {
		return err
	}
	for _, m := range mismatches {
		w.sum.Faults = append(w.sum.Faults, m.fault(path))
	}
	if err := w.photos(ctx, tx, id, path); err != nil {
		return err
	}
	if err := w.geometry(ctx, tx, id, path); err != nil {
		return err
	}
	return w.schedules(ctx, tx, id, path)
}

// photos writes the list of photos and notes their originals.
func (w *recordWriter) photos(ctx context.Context, tx Tx, siteID, path string) error {
	_, err := w.to.File(ctx, path+"photos.txt", func(out io.Writer) error {
		if _, err := io.WriteString(out, "received (UTC)\tphoto\toriginal\tfile name as sent\n"); err != nil {
			return err
		}
		return allPhotos(ctx, tx, siteID, func(p defects.Photo) error {
			if !evidence.Ref(p.SHA256).Valid() {
				return fmt.Errorf("photo %s has the hash %q", p.ID, p.SHA256)
			}
			ending, known := w.originals[p.SHA256]
			if !known {
				ending = endingOf(p.Capture.Type)
				w.originals[p.SHA256] = ending
			}
			_, err := fmt.Fprintf(out, "%s\t%s\t%s\t%s\n", p.ReceivedAt.UTC().Format(time.RFC3339), p.ID,
				originalPath(p.SHA256, ending), strconv.Quote(p.FileName))
			return err
		})
	})
	return err
}

func (w *recordWriter) geometry(ctx context.Context, tx Tx, siteID, path string) error {
	buildings, err := tx.Walls().Buildings(ctx, siteID)
	if err != nil {
		return err
	}
	elevations, err := tx.Walls().Elevations(ctx, siteID)
	if err != nil {
		return err
	}
	text, err := EncodeGeoJSON(buildings, elevations)
	if err != nil {
		return err
	}
	return w.text(ctx, path+"geometry.geojson", string(text))
}

func (w *recordWriter) schedules(ctx context.Context, tx Tx, siteID, path string) error {
	own, err := tx.Schedules().Schedules(ctx, siteID)
	if err != nil {
		return err
	}
	for i, s := range own {
		name := fmt.Sprintf("%sschedules/%03d-%s.v%d.json", path, i+1, plainName(s.Name), s.Version)
		if err := w.text(ctx, name, string(s.Document)); err != nil {
			return err
		}
	}
	return nil
}

// plainName leaves letters, figures and dashes of a name.
func plainName(name string) string {
	plain := strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '-' {
			return r
		}
		return '-'
	}, name)
	return plain[:min(len(plain), 60)]
}

// people writes who the members of a site are, so that their roles can be taken
// along; nothing of how they sign in.
func (w *recordWriter) people(ctx context.Context, tx Tx) error {
	members, err := tx.People().Memberships(ctx, MembershipFilter{SiteID: w.about.Site})
	if err != nil {
		return err
	}
	slices.SortFunc(members, func(a, b defects.Membership) int { return strings.Compare(a.AccountID, b.AccountID) })
	var text bytes.Buffer
	for _, m := range members {
		acc, err := tx.People().Account(ctx, m.AccountID)
		if err != nil {
			return err
		}
		row := Row{acc.ID, acc.Login, acc.Name, acc.CreatedAt.UnixMicro()}
		if err := encodeRow(&text, peopleTable(), row); err != nil {
			return err
		}
	}
	return w.text(ctx, peopleName, text.String())
}

// peopleTable is the form of the file of people.
func peopleTable() Table {
	return Table{Name: "people", Site: -1, Columns: []Column{
		{Name: "id", Kind: TextColumn},
		{Name: "login", Kind: TextColumn},
		{Name: "name", Kind: TextColumn},
		{Name: "created_at", Kind: WholeColumn},
	}}
}

// writeOriginals copies the originals. One that is lost or damaged is named as
// missing: the rest is worth the more.
func (r *Register) writeOriginals(ctx context.Context, rec *recordWriter, tell func()) error {
	rec.about.Missing = []string{}
	defer func() { rec.sum.Missing = len(rec.about.Missing) }()
	for _, sha := range slices.Sorted(maps.Keys(rec.originals)) {
		name := originalPath(sha, rec.originals[sha])
		err := r.writeOriginal(ctx, rec.to, name, evidence.Ref(sha))
		switch {
		case errors.Is(err, evidence.ErrNotFound), errors.Is(err, evidence.ErrDamaged):
			rec.about.Missing = append(rec.about.Missing, sha)
			rec.sum.Faults = append(rec.sum.Faults, RecordFault{name, "original_missing", "the original is lost or damaged in the store: " + err.Error()})
		case err != nil:
			return err
		default:
			rec.sum.Photos++
		}
		tell()
	}
	return nil
}

func (r *Register) writeOriginal(ctx context.Context, to *evidence.BundleWriter, name string, ref evidence.Ref) error {
	file, size, err := r.Blobs.Open(ctx, ref)
	if err != nil {
		return err
	}
	defer file.Close()
	// Read once to be sure of it: what is in a bundle cannot be taken back.
	got, _, err := evidence.HashCopy(ctx, io.Discard, file, size)
	if err != nil || got != ref {
		return fmt.Errorf("original %s: %w", ref, errors.Join(err, evidence.ErrDamaged))
	}
	if _, err := file.Seek(0, io.SeekStart); err != nil {
		return err
	}
	got, err = to.File(ctx, name, func(out io.Writer) error {
		_, err := io.Copy(out, file)
		return err
	})
	if err == nil && got != ref {
		return fmt.Errorf("original %s changed while it was read", ref)
	}
	return err
}
