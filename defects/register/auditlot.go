package register

import (
	"cmp"
	"context"
	"fmt"
	"slices"

	"storeyrod/defects"
	"storeyrod/defects/statistics"
)

// LotKind is what an audit sample is drawn from.
type LotKind string

// The kinds of lot.
const (
	LotNumber     LotKind = "number"       // items 1 to n, of whatever is counted elsewhere
	LotElevations LotKind = "elevations"   // by building and name
	LotCells      LotKind = "cells"        // bay × lift of each elevation
	LotClosed     LotKind = "closed-snags" // closed and conceded ones
	LotReadings   LotKind = "readings"     // those that stand
	LotPhotos     LotKind = "photos"
)

// LotKinds lists them in the order shown to people.
func LotKinds() []LotKind {
	return []LotKind{LotElevations, LotCells, LotClosed, LotReadings, LotPhotos, LotNumber}
}

// LotBy is what a lot is divided by, so that each part is represented.
type LotBy string

// The divisions; a lot is divided by what its items know.
const (
	ByNothing  LotBy = ""
	ByBuilding LotBy = "building"
	ByStage    LotBy = "stage"
	ByGang     LotBy = "gang"
)

// LotBys lists them.
func LotBys() []LotBy { return []LotBy{ByNothing, ByBuilding, ByStage, ByGang} }

// maxAuditLot bounds a lot of what a site holds.
const maxAuditLot = 100_000

// LotItem is one item of a lot with where it is to be found. Of Elevation, Snag,
// Reading and Photo at most one is set; a cell has its elevation.
type LotItem struct {
	ID          string // what is drawn by: "SN-0012", "Terrace A / North / bay 2 / lift 1"
	Stratum     string
	Title       string
	ElevationID string
	Bay, Lift   int
	Snag        int
	ReadingID   string
	PhotoID     string
}

// SampleInput asks for a draw from a lot.
type SampleInput struct {
	Of     LotKind
	By     LotBy
	Number int // of LotNumber
	// Items is a lot that is given with the request, in place of Of.
	Items []statistics.Item
	statistics.SampleSpec
}

// DrawnSample is a draw with what was drawn from.
type DrawnSample struct {
	statistics.Sample
	Lot    []LotItem
	ByID   map[string]LotItem
	Strata []StratumCount
}

// StratumCount says how many of a part of the lot were drawn.
type StratumCount struct {
	Stratum string
	Size    int
	Drawn   int
}

// AuditLot lists what a sample would be drawn from, in the order of its kind; the
// draw does not depend on the order.
func (r *Register) AuditLot(ctx context.Context, a Actor, siteID string, in SampleInput) ([]LotItem, error) {
	var lot []LotItem
	err := r.Store.Read(ctx, func(tx Tx) (err error) {
		if _, err = r.permit(ctx, tx, a, siteID, defects.DrawSample); err != nil {
			return err
		}
		if err = in.check(); err != nil {
			return err
		}
		lot, err = lotOf(ctx, tx, siteID, in)
		return err
	})
	if err != nil {
		return nil, err
	}
	if len(lot) > maxAuditLot && in.Of != LotNumber {
		return nil, defects.RefuseField(defects.TooLarge, "of", "lot_too_large", fmt.Sprintf("a lot of what a site holds has at most %d items", maxAuditLot))
	}
	return lot, nil
}

// DrawSample draws from a lot and says what the draw can miss. Without a seed it
// makes one. Nothing is stored: the same lot and seed draw the same items again.
func (r *Register) DrawSample(ctx context.Context, a Actor, siteID string, in SampleInput) (DrawnSample, error) {
	var out DrawnSample
	lot, err := r.AuditLot(ctx, a, siteID, in)
	if err != nil {
		return out, err
	}
	spec := in.SampleSpec
	if spec.Seed == "" {
		spec.Seed = r.NewSeed()
	}
	out.Lot, out.ByID = lot, make(map[string]LotItem, len(lot))
	count := map[string]*StratumCount{}
	for _, it := range lot {
		spec.Lot = append(spec.Lot, statistics.Item{ID: it.ID, Stratum: it.Stratum})
		out.ByID[it.ID] = it
		if count[it.Stratum] == nil {
			count[it.Stratum] = &StratumCount{Stratum: it.Stratum}
		}
		count[it.Stratum].Size++
	}
	if out.Sample, err = statistics.TakeSample(spec); err != nil {
		return DrawnSample{}, err
	}
	for _, it := range out.Drawn.Sample {
		count[it.Stratum].Drawn++
	}
	for _, c := range count {
		out.Strata = append(out.Strata, *c)
	}
	slices.SortFunc(out.Strata, func(x, y StratumCount) int { return cmp.Compare(x.Stratum, y.Stratum) })
	return out, nil
}

// NewSeed is a text that nobody could have chosen.
func (r *Register) NewSeed() string { return r.Secret() }

// Stratum lists the items of one part of the lot: what a major finding in it
// proposes to inspect.
func (s DrawnSample) Stratum(name string) []LotItem {
	return slices.DeleteFunc(slices.Clone(s.Lot), func(it LotItem) bool { return it.Stratum != name })
}

func (in SampleInput) check() error {
	switch {
	case len(in.Items) > 0:
		return nil
	case !slices.Contains(LotKinds(), in.Of):
		return defects.RefuseField(defects.Invalid, "of", "unknown_lot", "a lot is "+wordList(LotKinds()))
	case !slices.Contains(LotBys(), in.By):
		return defects.RefuseField(defects.Invalid, "by", "unknown_division", "a lot is divided by building, stage or gang, or not at all")
	case in.By != ByNothing && !slices.Contains(divisions(in.Of), in.By):
		return defects.RefuseField(defects.Invalid, "by", "no_such_division", fmt.Sprintf("%s know no %s", in.Of, in.By))
	case in.Of == LotNumber && (in.Number < 1 || in.Number > maxAuditLot):
		return defects.RefuseField(defects.Invalid, "lot", "bad_value", fmt.Sprintf("a lot has 1 to %d items", maxAuditLot))
	}
	return nil
}

// divisions are what the items of a lot know of themselves.
func divisions(of LotKind) []LotBy {
	switch of {
	case LotElevations, LotCells:
		return []LotBy{ByBuilding}
	case LotClosed, LotReadings:
		return []LotBy{ByBuilding, ByStage, ByGang}
	case LotPhotos:
		return []LotBy{ByBuilding, ByStage}
	}
	return nil
}

func wordList[T ~string](list []T) string {
	text := ""
	for i, w := range list {
		switch {
		case i == 0:
		case i == len(list)-1:
			text += " or "
		default:
			text += ", "
		}
		text += string(w)
	}
	return text
}
