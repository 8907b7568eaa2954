package register

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"

	"storeyrod/defects"
	"storeyrod/defects/reference"
)

// The kinds of follow-up.
const (
	FollowRaise   = "raise"         // a snag is proposed
	FollowMeasure = "measure-again" // the reading is too near its limit to tell
	FollowSearch  = "search"        // a pattern asks for further readings around it
	FollowOpening = "opening-up"    // what was covered unproven must be opened
)

// searchReadings is how many further readings a pattern asks for. Ours, after
// the sixth-reading habit of site checks: common practice, no source.
const searchReadings = 6

// FollowUp is what a reading, a set or a pattern asks for next.
type FollowUp struct {
	Kind       string // one of the kinds, or "" when the text is all there is to say
	Text       string
	ReadingID  string
	SetID      string
	Quantity   string
	Code       string // proposed defect code, for "raise"; "" = the catalogue has none
	Title      string
	Severity   defects.Severity
	SnagNumber int // the snag whose pattern asks, for "search"
	Want       int // how many readings are still wanted
}

// followUpOf is what a single reading asks for; nil when it asks for nothing.
func followUpOf(rd defects.Reading) *FollowUp {
	f := FollowUp{ReadingID: rd.ID, Quantity: rd.Quantity}
	switch rd.Verdict.Outcome {
	case defects.Fail:
		f.propose(defects.KindForReading(rd))
		f.Text = ReadingText(rd) + " fails: raise a snag"
	case defects.ConditionalPass, defects.ConditionalFail:
		f.Kind, f.Want = FollowMeasure, 1
		f.Text = ReadingText(rd) + " is nearer to the limit than its uncertainty: measure again with " + betterTool(rd.Quantity)
	case defects.NoVerdict:
		if rd.Verdict.Reason == defects.ReasonJudgedAsSet && rd.SetID != "" {
			return nil
		}
		f.Text = "no verdict: " + cmp.Or(rd.Verdict.ReasonText, rd.Verdict.Reason)
	default:
		return nil
	}
	return &f
}

// betterTool says what would settle a reading near its limit. A calliper is
// better only where something small is spanned: a joint, a crack, a lip.
func betterTool(quantity string) string {
	for _, small := range []string{"joint", "crack", "lipping"} {
		if strings.Contains(quantity, small) {
			return "a better instrument, e.g. a calliper"
		}
	}
	return "a better instrument or repeats"
}

// propose names the defect that a failed reading or set shows.
func (f *FollowUp) propose(code string) {
	f.Kind, f.Code = FollowRaise, code
	if kind, ok := reference.DefectKind(f.Code); ok {
		f.Title, f.Severity = kind.Name, kind.Severity
	}
}

// ReadingText says a reading against its limit: "13.6 mm against 7 to 13 mm".
func ReadingText(rd defects.Reading) string {
	text := rd.Value.String() + " " + rd.Unit
	low, high := rd.Verdict.Lower, rd.Verdict.Upper
	switch {
	case low != nil && high != nil:
		return fmt.Sprintf("%s against %s to %s %s", text, low, high, rd.Unit)
	case low != nil:
		return fmt.Sprintf("%s against at least %s %s", text, low, rd.Unit)
	case high != nil:
		return fmt.Sprintf("%s against at most %s %s", text, high, rd.Unit)
	}
	return text
}

// FollowUps lists what the readings of a site, or of one elevation, still ask
// for: snags to raise, readings to take again, and the search around a pattern.
// An operative sees those of his gang's readings.
func (r *Register) FollowUps(ctx context.Context, a Actor, siteID, elevationID string) ([]FollowUp, error) {
	var out []FollowUp
	err := r.Store.Read(ctx, func(tx Tx) error {
		m, err := r.permit(ctx, tx, a, siteID, defects.ViewSite)
		if err != nil {
			return err
		}
		q := asked{tx: tx, site: siteID, elevation: elevationID}
		if elevationID != "" {
			if _, err := tx.Walls().Elevation(ctx, siteID, elevationID); err != nil {
				return err
			}
		}
		if !forceGang(m, &q.gang) {
			return nil
		}
		out, err = q.all(ctx)
		return err
	})
	return out, err
}

// asked is one question for follow-ups.
type asked struct {
	tx              Tx
	site, elevation string
	gang            string
}

func (q asked) all(ctx context.Context) ([]FollowUp, error) {
	single, err := q.ofReadings(ctx)
	if err != nil {
		return nil, err
	}
	sets, err := q.ofSets(ctx)
	if err != nil {
		return nil, err
	}
	search, err := q.ofPatterns(ctx)
	return slices.Concat(single, sets, search), err
}

func (q asked) readings(ctx context.Context, f ReadingFilter, each func(defects.Reading) error) error {
	f.SiteID = q.site
	return allOf(func(p Page) ([]defects.Reading, error) { return q.tx.Readings().ListReadings(ctx, f, p) }, CursorOfReading, each)
}

// ofReadings lists fails without a snag, and conditional results that nothing
// has settled since. The failed ones come first.
func (q asked) ofReadings(ctx context.Context) ([]FollowUp, error) {
	var raise, again []FollowUp
	near := map[nearKey][]defects.Reading{}
	f := ReadingFilter{ElevationID: q.elevation, Gang: q.gang, Unanswered: true}
	err := q.readings(ctx, f, func(rd defects.Reading) error {
		switch {
		case rd.Verdict.Outcome == defects.Fail:
			raise = append(raise, *followUpOf(rd))
		case rd.Verdict.Outcome == defects.ConditionalPass, rd.Verdict.Outcome == defects.ConditionalFail:
			k := nearKey{rd.Quantity, rd.Place.ElevationID}
			near[k] = append(near[k], rd)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	for k, list := range near {
		open, err := q.unsettled(ctx, k, list)
		if err != nil {
			return nil, err
		}
		for _, rd := range open {
			again = append(again, *followUpOf(rd))
		}
	}
	byReading := func(x, y FollowUp) int { return cmp.Compare(x.ReadingID, y.ReadingID) }
	slices.SortFunc(raise, byReading)
	slices.SortFunc(again, byReading)
	return slices.Concat(raise, again), nil
}

// nearKey groups readings that may answer one another.
type nearKey struct{ quantity, elevation string }

// unsettled drops the conditional results that were measured again since. Each
// later reading settles one of them at most.
func (q asked) unsettled(ctx context.Context, k nearKey, list []defects.Reading) ([]defects.Reading, error) {
	var later []defects.Reading
	err := q.readings(ctx, ReadingFilter{ElevationID: k.elevation, Quantity: k.quantity}, func(rd defects.Reading) error {
		if rd.Withdrawn == "" && rd.Place.ElevationID == k.elevation {
			later = append(later, rd)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	slices.SortFunc(list, earlier)
	slices.SortFunc(later, earlier)
	var open []defects.Reading
	for _, rd := range list {
		at := slices.IndexFunc(later, func(other defects.Reading) bool { return settles(other, rd) })
		if at < 0 {
			open = append(open, rd)
			continue
		}
		later = slices.Delete(later, at, at+1)
	}
	return open, nil
}

func earlier(x, y defects.Reading) int {
	return cmp.Or(x.MeasuredAt.Compare(y.MeasuredAt), cmp.Compare(x.ID, y.ID))
}

// samePlaceMM is how near two typed positions are one place.
const samePlaceMM = 50

// settles reports whether a later reading is the measurement again that a
// conditional one asks for. With x and z the place tells. A bay and lift hold
// many joints, so there only another or a better instrument shows that the
// same one was meant.
func settles(later, rd defects.Reading) bool {
	if later.ID == rd.ID || !later.MeasuredAt.After(rd.MeasuredAt) {
		return false
	}
	p, q := later.Place, rd.Place
	if p.X != nil && p.Z != nil && q.X != nil && q.Z != nil {
		return max(*p.X-*q.X, *q.X-*p.X) <= samePlaceMM && max(*p.Z-*q.Z, *q.Z-*p.Z) <= samePlaceMM
	}
	if p.Bay != q.Bay || p.Lift != q.Lift || p.Opening != q.Opening || p.Zone != q.Zone {
		return false
	}
	u, was := later.Verdict.Expanded, rd.Verdict.Expanded
	return later.InstrumentID != rd.InstrumentID || (u != nil && was != nil && u.Less(*was))
}

// ofPatterns lists the further readings that open snags with a pattern ask for
// in their elevation, and in their bay and lift where these are stated.
func (q asked) ofPatterns(ctx context.Context) ([]FollowUp, error) {
	var snags []defects.Snag
	f := SnagFilter{SiteID: q.site, ElevationID: q.elevation, OpenOnly: true, Gang: q.gang}
	err := allOf(func(p Page) ([]defects.Snag, error) { return q.tx.Snags().ListSnags(ctx, f, p) },
		func(s defects.Snag) string { return CursorOfSnag(ByNumber, s) },
		func(s defects.Snag) error {
			if s.Extent == defects.Pattern && s.Quantity != "" {
				snags = append(snags, s)
			}
			return nil
		})
	if err != nil {
		return nil, err
	}
	var out []FollowUp
	for _, s := range snags {
		found, err := q.furtherReadings(ctx, s)
		if err != nil {
			return nil, err
		}
		if want := searchReadings - found; want > 0 {
			out = append(out, FollowUp{
				Kind: FollowSearch, SnagNumber: s.Number, Code: s.Code, Quantity: s.Quantity, Want: want,
				Text: fmt.Sprintf("%s shows a pattern: %d of %d further readings of %s are still wanted around it",
					s.Ref(), want, searchReadings, strings.ReplaceAll(s.Quantity, "_", " ")),
			})
		}
	}
	return out, nil
}

// furtherReadings counts what was measured around a snag since it was raised.
// The reading it was raised from and the one it is offered with are its own.
func (q asked) furtherReadings(ctx context.Context, s defects.Snag) (int, error) {
	n := 0
	f := ReadingFilter{ElevationID: s.Place.ElevationID, Quantity: s.Quantity}
	err := q.readings(ctx, f, func(rd defects.Reading) error {
		own := rd.ID == s.ReadingID || rd.ID == s.OfferReading
		inArea := (s.Place.Bay == 0 || rd.Place.Bay == s.Place.Bay) && (s.Place.Lift == 0 || rd.Place.Lift == s.Place.Lift)
		if !own && inArea && rd.Withdrawn == "" && rd.MeasuredAt.After(s.RaisedAt) {
			n++
		}
		return nil
	})
	return n, err
}
