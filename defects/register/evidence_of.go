package register

import (
	"context"
	"fmt"
	"time"

	"storeyrod/defects"
)

// evidencePhotos looks photos up for the guards of a snag, in the order given.
// A photo that is not of the site, or that the member may not see, is refused by
// its position.
func evidencePhotos(ctx context.Context, tx Tx, m defects.Membership, site defects.Site, ids []string) ([]defects.EvidencePhoto, error) {
	if len(ids) == 0 {
		return nil, nil
	}
	if len(ids) > maxStepPhotos {
		return nil, defects.RefuseField(defects.TooLarge, "photos", "too_many_photos", fmt.Sprintf("at most %d photos at once", maxStepPhotos))
	}
	zone, err := siteZone(site)
	if err != nil {
		return nil, err
	}
	photos, err := tx.Photos().PhotosByID(ctx, site.ID, ids)
	if err != nil {
		return nil, err
	}
	if photos, err = photosSeen(ctx, tx, m, photos); err != nil {
		return nil, err
	}
	used, err := tx.Snags().EvidenceUse(ctx, site.ID, ids)
	if err != nil {
		return nil, err
	}
	byID := make(map[string]defects.Photo, len(photos))
	for _, p := range photos {
		byID[p.ID] = p
	}
	out := make([]defects.EvidencePhoto, 0, len(ids))
	for i, id := range ids {
		p, ok := byID[id]
		if !ok {
			return nil, defects.RefuseField(defects.NotFound, fmt.Sprintf("photos[%d]", i), "photo_not_found", "no such photo on this site")
		}
		e := evidencePhoto(p, zone)
		e.UsedBy = used[id]
		out = append(out, e)
	}
	return out, nil
}

// maxStepPhotos bounds the photos of one step.
const maxStepPhotos = 100

// evidencePhoto is a photo as a guard sees it. One whose refusal somebody
// overruled in writing counts as an illustration.
func evidencePhoto(p defects.Photo, zone *time.Location) defects.EvidencePhoto {
	at, sure := p.TakenAt(zone)
	grade := p.Grade
	if grade == defects.GradeX && p.Overruled != "" {
		grade = defects.GradeC
	}
	return defects.EvidencePhoto{
		ID: p.ID, TakenAt: at, TakenSure: sure, ReceivedAt: p.ReceivedAt, ElevationID: p.Place.ElevationID, Grade: grade,
	}
}

// evidenceReading is a reading as a guard sees it.
func evidenceReading(rd defects.Reading) defects.EvidenceReading {
	return defects.EvidenceReading{
		ID: rd.ID, Quantity: rd.Quantity, MeasuredAt: rd.MeasuredAt, Place: rd.Place, Outcome: rd.Verdict.Outcome,
		Value: rd.Value, ByID: rd.ByID, Text: defects.ReadingWords(rd), Withdrawn: rd.Withdrawn != "",
	}
}

// dayAt is the calendar day of an instant at a site.
func dayAt(site defects.Site, at time.Time) (string, error) {
	zone, err := siteZone(site)
	if err != nil {
		return "", err
	}
	return at.In(zone).Format(dateFmt), nil
}
