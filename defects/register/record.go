package register

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"regexp"
	"strings"

	"storeyrod/defects"
	"storeyrod/evidence"
)

// A record is one site, or a whole instance, as files: a bundle of package
// evidence with the rows of the tables, the log, the originals, and copies that
// a person can read. A record of a site goes to another instance, a backup back
// into an empty one; both are written and read by the same code.
const (
	recordFormat  = "storeyrod-record"
	recordVersion = 1
	aboutName     = "record.json"
	logName       = "log.jsonl"
	peopleName    = "people.jsonl"
	scopeSite     = "site"
	scopeInstance = "instance"
	maxAbout      = 64 << 20 // it lists the originals that were missing
	entriesAtOnce = 1000
)

// recordAbout says what a record holds.
type recordAbout struct {
	Format  string   `json:"format"`
	Version int      `json:"version"`
	Scope   string   `json:"scope"`
	Site    string   `json:"site,omitempty"`
	Name    string   `json:"name,omitempty"`
	Schema  int64    `json:"schema"`  // number of the last migration
	Missing []string `json:"missing"` // originals that were lost or damaged when it was written
}

// RecordFault is one thing wrong with a record or with what it was made of.
type RecordFault struct{ File, Code, Text string }

func (f RecordFault) String() string { return fmt.Sprintf("%s: %s [%s]", f.File, f.Text, f.Code) }

// RecordSum says what a record holds, or what was taken from one.
type RecordSum struct {
	SiteID, SiteName string // of a site's record
	Sites            int
	Photos           int // originals
	Missing          int // originals that were lost or damaged before
	Entries          int64
	Faults           []RecordFault // for a record that was read: if any, see the call
}

// sitePath is where the files of a site lie in a record.
func (a recordAbout) sitePath(siteID string) string {
	if a.Scope == scopeSite || siteID == InstanceLog {
		return ""
	}
	return "sites/" + siteID + "/"
}

func tablePath(table string) string { return "tables/" + table + ".jsonl" }

func originalPath(sha, ending string) string {
	return "originals/" + sha[:2] + "/" + sha + ending
}

// originalName reads the path of an original.
var originalName = regexp.MustCompile(`^originals/[0-9a-f]{2}/([0-9a-f]{64})(\.[a-z]{3,4})?$`)

// otherNames are further files of a record. The program does not read them
// back; they are for people.
var otherNames = regexp.MustCompile(`^(README\.txt|(sites/[A-Za-z0-9_-]+/)?(photos\.txt|geometry\.geojson|schedules/[A-Za-z0-9._-]+\.json))$`)

// endingOf is the ending that other programs know a photo by.
func endingOf(kind string) string {
	switch kind {
	case "jpeg":
		return ".jpg"
	case "png", "webp", "heic":
		return "." + kind
	}
	return ""
}

// operatorOnly refuses everybody but who runs the machine.
func operatorOnly(a Actor) error {
	if a.AccountID != SystemID {
		return defects.Refuse(defects.Forbidden, "operator_only", "records are for whoever runs the machine")
	}
	return nil
}

// readAbout reads what a record says of itself.
func readAbout(b *evidence.Bundle) (about recordAbout, err error) {
	if b.Size(aboutName) > maxAbout {
		return about, badRow("bad_record", "is too long")
	}
	f, err := b.Open(aboutName)
	if err != nil {
		return about, badRow("bad_record", "cannot be opened: "+err.Error())
	}
	defer f.Close()
	text, err := io.ReadAll(f)
	if err != nil {
		return about, badRow("changed_file", err.Error())
	}
	dec := json.NewDecoder(strings.NewReader(string(text)))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&about); err != nil {
		return about, badRow("bad_record", "is not what a record says of itself: "+err.Error())
	}
	scoped := about.Scope == scopeInstance && about.Site == "" || about.Scope == scopeSite && about.Site != "" && about.Site != InstanceLog
	switch {
	case about.Format != recordFormat || !scoped:
		return about, badRow("bad_record", "is not of the format "+recordFormat)
	case about.Version != recordVersion:
		return about, badRow("other_version", fmt.Sprintf("is of version %d of the format; this program knows version %d", about.Version, recordVersion))
	}
	return about, nil
}

// entries calls each with all encoded entries of a log, in parts.
func entries(ctx context.Context, tx Tx, siteID string, each func([]byte) error) error {
	for from := int64(1); ; {
		part, err := tx.Log().Entries(ctx, siteID, from, entriesAtOnce)
		if err != nil {
			return err
		}
		for _, e := range part {
			if err := each(e); err != nil {
				return err
			}
		}
		if len(part) < entriesAtOnce {
			return nil
		}
		from += int64(len(part))
	}
}

// allPhotos calls each with all photos of a site, in parts.
func allPhotos(ctx context.Context, tx Tx, siteID string, each func(defects.Photo) error) error {
	page := Page{Limit: largestPage}
	for {
		part, err := tx.Photos().ListPhotos(ctx, PhotoFilter{SiteID: siteID}, page)
		if err != nil {
			return err
		}
		for _, p := range part {
			if err := each(p); err != nil {
				return err
			}
		}
		if len(part) < page.Limit {
			return nil
		}
		page.After = CursorOfPhoto(part[len(part)-1])
	}
}
