package register

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"

	"storeyrod/defects"
	"storeyrod/evidence"
	"storeyrod/imaging"
)

// Captioned is the preview with place, time and number on a strip below it. It is
// made when it is asked for, and kept under a name that its text gives: another
// place makes it anew.
const Captioned Variant = "captioned"

// captionWeight is what a preview weighs in the pool while it is drawn anew.
const captionWeight = 2 * 2048 * 2048

// captionLines says of a photo what a print must tell by itself.
func captionLines(ctx context.Context, tx Tx, p defects.Photo) ([]string, error) {
	site, err := tx.Sites().Site(ctx, p.SiteID)
	if err != nil {
		return nil, err
	}
	zone, err := siteZone(site)
	if err != nil {
		return nil, err
	}
	place := "on no elevation yet"
	if p.Place.ElevationID != "" {
		e, err := tx.Walls().Elevation(ctx, p.SiteID, p.Place.ElevationID)
		if err != nil {
			return nil, err
		}
		place = e.Building + ", " + e.Name + placeInWall(p.Place)
		if p.PlacedBy == defects.PlacedProgram {
			place += ", place proposed by the program"
		}
	}
	const form = "2006-01-02 15:04:05 -07:00"
	when := "received " + p.ReceivedAt.In(zone).Format(form) + "; the photo tells no time of its own"
	if local := strings.Replace(p.Capture.TakenLocal, "T", " ", 1); local != "" && p.Capture.UTCOffset != "" {
		when = "taken " + local + " " + p.Capture.UTCOffset
	} else if local != "" {
		when = "taken " + local + " by the camera's clock, offset unknown; received " + p.ReceivedAt.In(zone).Format(form)
	}
	return []string{siteOnPrint(site), place, when, "photo " + p.SHA256[:min(12, len(p.SHA256))] + " · evidence grade " + string(p.Grade)}, nil
}

// siteOnPrint is a site's name, marked once when the site is a demonstration.
func siteOnPrint(site defects.Site) string {
	if site.Demo && !strings.Contains(site.Name, "invented") {
		return site.Name + " (invented)"
	}
	return site.Name
}

func placeInWall(p defects.Place) (words string) {
	if p.Bay > 0 {
		words += ", bay " + strconv.Itoa(p.Bay)
	}
	if p.Lift > 0 {
		words += ", lift " + strconv.Itoa(p.Lift)
	}
	if p.X != nil && p.Z != nil {
		words += ", x " + p.X.Metres().String() + " m, z " + p.Z.Metres().String() + " m"
	}
	if p.Opening != "" {
		words += ", opening " + p.Opening
	}
	return words
}

// captionKey names a captioned copy by its text and by the copy it is made from.
func captionKey(p defects.Photo, lines []string) string {
	sum := sha256.Sum256([]byte(strconv.FormatInt(p.CopiesSeq, 10) + "\n" + strings.Join(lines, "\n")))
	return hex.EncodeToString(sum[:7])
}

// openCaptioned opens the captioned preview, making it when it is not there.
func (r *Register) openCaptioned(ctx context.Context, p defects.Photo, lines []string) (Opened, error) {
	key := captionKey(p, lines)
	ref, kind := evidence.Ref(p.SHA256), "c"+key+".jpg"
	preview, err := r.openCopy(ctx, p, Preview)
	if err != nil {
		return Opened{}, err
	}
	defer preview.Body.Close()
	out := Opened{Type: "image/jpeg", Photo: p, Tag: p.SHA256[:32] + "-" + key}
	out.Body, out.Size, err = r.Derived.OpenDerived(ctx, ref, kind)
	if err == nil {
		return out, nil
	}
	if !errors.Is(err, evidence.ErrNotFound) {
		return Opened{}, fmt.Errorf("open captioned copy of photo %s: %w", p.ID, err)
	}
	var made imaging.Picture
	err = r.Pool.Do(ctx, captionWeight, func() error {
		made, err = imaging.Caption(preview.Body, lines)
		return err
	})
	if err != nil {
		return Opened{}, fmt.Errorf("caption photo %s: %w", p.ID, err)
	}
	// It can be made again: what cannot be kept is shown all the same.
	if err := r.Derived.PutDerived(ctx, ref, kind, made.JPEG); err != nil {
		r.Logger.WarnContext(ctx, "captioned copy not kept", "photo", p.ID, "error", err)
	}
	out.Body, out.Size = inMemory{bytes.NewReader(made.JPEG)}, int64(len(made.JPEG))
	return out, nil
}

type inMemory struct{ io.ReadSeeker }

func (inMemory) Close() error { return nil }
