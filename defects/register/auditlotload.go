package register

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strconv"

	"storeyrod/defects"
)

// lotOf loads the items of a lot.
func lotOf(ctx context.Context, tx Tx, siteID string, in SampleInput) ([]LotItem, error) {
	if len(in.Items) > 0 {
		lot := make([]LotItem, len(in.Items))
		for i, it := range in.Items {
			lot[i] = LotItem{ID: it.ID, Stratum: it.Stratum, Title: it.ID}
		}
		return lot, nil
	}
	if in.Of == LotNumber {
		lot := make([]LotItem, in.Number)
		for i := range lot {
			lot[i].ID = strconv.Itoa(i + 1)
			lot[i].Title = lot[i].ID
		}
		return lot, nil
	}
	walls, err := tx.Walls().Elevations(ctx, siteID)
	if err != nil {
		return nil, err
	}
	l := lotLoader{ctx: ctx, tx: tx, siteID: siteID, by: in.By, walls: walls}
	switch in.Of {
	case LotElevations:
		err = l.elevations(false)
	case LotCells:
		err = l.elevations(true)
	case LotClosed:
		err = l.closedSnags()
	case LotReadings:
		err = l.readings()
	case LotPhotos:
		err = l.photos()
	}
	return l.lot, err
}

type lotLoader struct {
	ctx    context.Context
	tx     Tx
	siteID string
	by     LotBy
	walls  []defects.Elevation
	lot    []LotItem
}

// part is the stratum of an item; what an item does not say of itself is a part
// of its own, so that it can be drawn as well.
func (l *lotLoader) part(elevationID, stage, gang string) string {
	word := ""
	switch l.by {
	case ByNothing:
		return ""
	case ByBuilding:
		if i := slices.IndexFunc(l.walls, func(e defects.Elevation) bool { return e.ID == elevationID }); i >= 0 {
			word = l.walls[i].Building
		}
	case ByStage:
		word = stage
	case ByGang:
		word = gang
	}
	return cmp.Or(word, "no "+string(l.by)+" stated")
}

// add keeps the lot within what is taken; the caller refuses a larger one.
func (l *lotLoader) add(it LotItem) {
	if len(l.lot) <= maxAuditLot {
		l.lot = append(l.lot, it)
	}
}

// elevations lists the walls, or the bay × lift cells of each; a wall without
// bays or lifts is cut along what it has.
func (l *lotLoader) elevations(cells bool) error {
	for _, e := range l.walls {
		name := e.Building + " / " + e.Name
		it := LotItem{ID: name, Title: name, Stratum: l.part(e.ID, "", ""), ElevationID: e.ID}
		if !cells {
			l.add(it)
			continue
		}
		for bay := range max(1, len(e.Bays)) {
			for lift := range max(1, len(e.Lifts)) {
				cell := it
				if len(e.Bays) > 0 {
					cell.Bay = bay + 1
					cell.ID += fmt.Sprintf(" / bay %d", cell.Bay)
				}
				if len(e.Lifts) > 0 {
					cell.Lift = lift + 1
					cell.ID += fmt.Sprintf(" / lift %d", cell.Lift)
				}
				cell.Title = cell.ID
				l.add(cell)
			}
		}
	}
	return nil
}

func (l *lotLoader) closedSnags() error {
	list, err := l.tx.Snags().ListSnags(l.ctx, SnagFilter{
		SiteID: l.siteID, States: []defects.State{defects.Closed, defects.Conceded},
	}, Page{Limit: maxAuditLot + 1})
	for _, s := range list {
		l.add(LotItem{
			ID: s.Ref(), Title: s.Ref() + " " + s.Title + ", " + s.PlaceWords, Snag: s.Number,
			Stratum: l.part(s.Place.ElevationID, s.Stage, s.Gang), ElevationID: s.Place.ElevationID,
		})
	}
	return err
}

func (l *lotLoader) readings() error {
	list, err := l.tx.Readings().ListReadings(l.ctx, ReadingFilter{SiteID: l.siteID}, Page{Limit: maxAuditLot + 1})
	for _, rd := range standing(list) {
		l.add(LotItem{
			ID: rd.ID, Title: rd.Quantity + " " + rd.Value.String() + " " + rd.Unit, ReadingID: rd.ID,
			Stratum: l.part(rd.Place.ElevationID, rd.Stage, rd.Gang), ElevationID: rd.Place.ElevationID,
		})
	}
	return err
}

// photos are drawn by the SHA-256 of their originals, which the sender knows too.
func (l *lotLoader) photos() error {
	list, err := l.tx.Photos().ListPhotos(l.ctx, PhotoFilter{SiteID: l.siteID}, Page{Limit: maxAuditLot + 1})
	for _, p := range list {
		l.add(LotItem{
			ID: p.SHA256, Title: cmp.Or(p.FileName, "photo"), PhotoID: p.ID,
			Stratum: l.part(p.Place.ElevationID, p.Stage, ""), ElevationID: p.Place.ElevationID,
		})
	}
	return err
}
