package register

import (
	"cmp"
	"context"
	"fmt"
	"slices"

	"storeyrod/defects"
)

// maxSetReadings bounds a set; it is judged as a whole with each change.
const maxSetReadings = 1000

// NewSet is a group of readings that will be judged together.
type NewSet struct {
	Quantity  string
	Name      string
	Substrate string
	Stage     string
	Place     defects.Place
}

// CreateSet starts a set; readings join it by naming its id.
func (r *Register) CreateSet(ctx context.Context, a Actor, siteID string, n NewSet) (defects.Set, error) {
	set, err := cleanSet(siteID, n)
	if err != nil {
		return defects.Set{}, err
	}
	err = r.Store.Write(ctx, func(tx Tx) error {
		m, err := r.permit(ctx, tx, a, siteID, defects.AddReading)
		if err != nil {
			return err
		}
		b, err := r.bench(ctx, tx, a, m, siteID, nil)
		if err != nil {
			return err
		}
		if set.Place, err = b.setPlace(n.Place); err != nil {
			return err
		}
		set.ID = r.NewID()
		v := b.judgeSet(set, nil)
		set.Verdict, set.Result, set.ResultText = v.Verdict, v.Result, v.ResultText
		if err := tx.Readings().SaveSet(ctx, set); err != nil {
			return err
		}
		set.Version = 1
		return r.note(ctx, tx, a, m, siteID, setEvent("set.create", set))
	})
	if err != nil {
		return defects.Set{}, err
	}
	return set, nil
}

func cleanSet(siteID string, n NewSet) (defects.Set, error) {
	set := defects.Set{SiteID: siteID, Quantity: n.Quantity, Stage: n.Stage}
	if _, ok := defects.QuantityByName(n.Quantity); !ok {
		return set, defects.RefuseField(defects.Invalid, "quantity", "unknown_quantity",
			fmt.Sprintf("%q is no quantity that is recorded here", shorten(n.Quantity, 60)))
	}
	if err := checkStage(n.Stage); err != nil {
		return set, err
	}
	var err error
	if set.Name, err = cleanName("name", n.Name); err != nil {
		return set, err
	}
	set.Substrate, err = cleanText("substrate", n.Substrate, maxName)
	return set, err
}

// setPlace completes a set's place on its elevation, if it is on one.
func (b *bench) setPlace(p defects.Place) (defects.Place, error) {
	if p.ElevationID == "" {
		rd := defects.Reading{}
		err := b.takeNowhere(&rd, p)
		return rd.Place, err
	}
	wall, err := findElevation(b.elevations, p.ElevationID)
	if err != nil {
		return p, err
	}
	p.ElevationID = wall.ID
	return defects.Locate(wall, p)
}

// Set is one set with all its readings, withdrawn ones too, in the order they
// were taken. An operative sees the readings of his gang.
func (r *Register) Set(ctx context.Context, a Actor, siteID, id string) (defects.Set, []defects.Reading, error) {
	var set defects.Set
	var readings []defects.Reading
	err := r.Store.Read(ctx, func(tx Tx) error {
		m, err := r.permit(ctx, tx, a, siteID, defects.ViewSite)
		if err != nil {
			return err
		}
		set, _, readings, err = seenSet(ctx, tx, m, siteID, id)
		return err
	})
	if err != nil {
		return defects.Set{}, nil, err
	}
	return set, readings, nil
}

// Sets lists the sets of a site; an operative's list has those with a reading of
// his gang, and the empty ones.
func (r *Register) Sets(ctx context.Context, a Actor, siteID string) ([]defects.Set, error) {
	var sets []defects.Set
	err := r.Store.Read(ctx, func(tx Tx) error {
		m, err := r.permit(ctx, tx, a, siteID, defects.ViewSite)
		if err != nil {
			return err
		}
		sets, err = setsSeen(ctx, tx, m, siteID)
		return err
	})
	return sets, err
}

// readingsOfSet loads a set's readings in the order taken; ids, which sort by
// the time they were made, settle ties.
func readingsOfSet(ctx context.Context, tx Tx, set defects.Set) ([]defects.Reading, error) {
	var list []defects.Reading
	err := allOf(func(p Page) ([]defects.Reading, error) {
		return tx.Readings().ListReadings(ctx, ReadingFilter{SiteID: set.SiteID, SetID: set.ID}, p)
	}, CursorOfReading, func(rd defects.Reading) error {
		list = append(list, rd)
		return nil
	})
	slices.SortFunc(list, func(x, y defects.Reading) int {
		return cmp.Or(x.MeasuredAt.Compare(y.MeasuredAt), cmp.Compare(x.ID, y.ID))
	})
	return list, err
}

// judgeSets judges sets anew after their readings changed, each once, and logs
// a verdict that is another one now. Empty ids are passed over.
func (r *Register) judgeSets(ctx context.Context, tx Tx, b *bench, ids ...string) error {
	ids = slices.Clone(ids)
	slices.Sort(ids)
	for _, id := range slices.Compact(ids) {
		if id == "" {
			continue
		}
		if _, err := r.judgeOneSet(ctx, tx, b, id); err != nil {
			return err
		}
	}
	return nil
}

func (r *Register) judgeOneSet(ctx context.Context, tx Tx, b *bench, id string) (after defects.Set, err error) {
	before, err := tx.Readings().Set(ctx, b.site.ID, id)
	if err != nil {
		return after, err
	}
	readings, err := readingsOfSet(ctx, tx, before)
	if err != nil {
		return after, err
	}
	readings = standing(readings)
	if len(readings) > maxSetReadings {
		return after, defects.RefuseField(defects.TooLarge, "set", "set_full", fmt.Sprintf("a set has at most %d readings", maxSetReadings))
	}
	after = before
	v := b.judgeSet(before, readings)
	after.Readings, after.Verdict, after.Result, after.ResultText = len(readings), v.Verdict, v.Result, v.ResultText
	if err := tx.Readings().SaveSet(ctx, after); err != nil {
		return after, err
	}
	after.Version++
	if sameVerdict(before, after) {
		return after, nil // the reading's own entry tells of the change
	}
	return after, r.note(ctx, tx, b.actor, b.me, b.site.ID, setJudgedEvent(before, after))
}

func sameVerdict(x, y defects.Set) bool {
	return x.Verdict.Outcome == y.Verdict.Outcome && x.Verdict.Reason == y.Verdict.Reason &&
		x.Verdict.ReasonText == y.Verdict.ReasonText && x.Verdict.Schedule == y.Verdict.Schedule &&
		sameDecimal(x.Result, y.Result)
}

func sameDecimal(x, y *defects.Decimal) bool {
	if x == nil || y == nil {
		return x == y
	}
	return x.Cmp(*y) == 0
}
