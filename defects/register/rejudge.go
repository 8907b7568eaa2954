package register

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"storeyrod/defects"
)

const (
	// rejudgeChunk is how many readings are judged anew in one transaction: other
	// writers of the site get their turn between two.
	rejudgeChunk = 500
	// rejudgeAtOnce is how many parts the request that decides carries out
	// itself; what is left goes on in the background.
	rejudgeAtOnce = 8
	maxRejudged   = 50 // decisions in one list
	// rejudgementDone is the kind of the entry that ends a decision.
	rejudgementDone = "rejudgement.done"
	rejudgeTick     = 5 * time.Second
)

// Rejudge judges a stored reading, and the set it belongs to, under the
// schedules now in force. It is for those who set the limits; the verdict it
// replaces stays in the log.
func (r *Register) Rejudge(ctx context.Context, a Actor, siteID, id string, version int, reason string) (defects.Reading, error) {
	reason, err := neededReason(reason)
	if err != nil {
		return defects.Reading{}, err
	}
	var after defects.Reading
	err = r.Store.Write(ctx, func(tx Tx) error {
		m, err := r.permit(ctx, tx, a, siteID, defects.SetLimits)
		if err != nil {
			return err
		}
		before, err := standingReading(ctx, tx, siteID, id, version)
		if err != nil {
			return err
		}
		b, err := r.bench(ctx, tx, a, m, siteID, nil)
		if err != nil {
			return err
		}
		after = before
		b.judge(&after)
		if err := tx.Readings().UpdateReading(ctx, after); err != nil {
			return err
		}
		after.Version++
		if err := r.note(ctx, tx, a, m, siteID, rejudgedEvent(before, after, reason, "")); err != nil {
			return err
		}
		return r.judgeSets(ctx, tx, b, after.SetID)
	})
	return after, err
}

// RejudgeOrder is which readings to judge anew, by what, and why. No schedules
// means those in force; rule and guard are the site's.
type RejudgeOrder struct {
	ElevationID string
	Stage       string
	Quantity    string
	Schedules   []string // name or name@version
	Reason      string
}

// PreviewRejudge counts what a decision would change and writes nothing.
func (r *Register) PreviewRejudge(ctx context.Context, a Actor, siteID string, o RejudgeOrder) (defects.Rejudgement, error) {
	var j defects.Rejudgement
	err := r.Store.Read(ctx, func(tx Tx) error {
		b, job, err := r.rejudgeBench(ctx, tx, a, siteID, o)
		if err != nil {
			return err
		}
		j = job
		for {
			list, err := tx.Readings().ListReadings(ctx, filterOf(j), Page{Limit: rejudgeChunk, After: j.Place})
			if err != nil {
				return err
			}
			if len(list) == 0 {
				return b.previewGroups(ctx, tx, &j)
			}
			for _, rd := range list {
				if after, ok := b.again(j, rd); ok {
					j.Tally.Add(rd.Verdict.Outcome, after.Verdict.Outcome, rd.SnagNumber)
				}
			}
			j.Place = CursorOfReading(list[len(list)-1])
		}
	})
	return j, err
}

// previewGroups counts what would become of the sets and surveys of a decision.
func (b *bench) previewGroups(ctx context.Context, tx Tx, j *defects.Rejudgement) error {
	sets, err := setsOf(ctx, tx, *j)
	if err != nil {
		return err
	}
	for _, s := range sets {
		readings, err := readingsOfSet(ctx, tx, s)
		if err != nil {
			return err
		}
		j.Tally.AddSet(s.Verdict.Outcome, b.judgeSet(s, standing(readings)).Verdict.Outcome)
	}
	return surveysOf(ctx, tx, j, func(s defects.Survey) (defects.Survey, error) {
		err := b.judgeSurvey(&s)
		return s, err
	})
}

// setsOf are the sets that a decision is about.
func setsOf(ctx context.Context, tx Tx, j defects.Rejudgement) ([]defects.Set, error) {
	sets, err := tx.Readings().Sets(ctx, j.SiteID)
	return slices.DeleteFunc(sets, func(s defects.Set) bool {
		return j.ElevationID != "" && s.Place.ElevationID != j.ElevationID || j.Stage != "" && s.Stage != j.Stage || j.Quantity != "" && s.Quantity != j.Quantity
	}), err
}

// RejudgeAll decides to judge readings anew and begins with it. The decision is
// logged with its reason and so is every reading's old and new verdict. What is
// too much for one request stays running and is taken up by ContinueRejudging.
func (r *Register) RejudgeAll(ctx context.Context, a Actor, siteID string, o RejudgeOrder) (defects.Rejudgement, error) {
	j, err := r.decideRejudge(ctx, a, siteID, o)
	if err != nil {
		return j, err
	}
	return r.carryOn(ctx, j, rejudgeAtOnce)
}

// decideRejudge stores and logs a decision and changes no reading.
func (r *Register) decideRejudge(ctx context.Context, a Actor, siteID string, o RejudgeOrder) (defects.Rejudgement, error) {
	var j defects.Rejudgement
	reason, err := neededReason(o.Reason)
	if err != nil {
		return j, err
	}
	err = r.Store.Write(ctx, func(tx Tx) error {
		b, job, err := r.rejudgeBench(ctx, tx, a, siteID, o)
		if err != nil {
			return err
		}
		j = job
		j.ID, j.Reason, j.By, j.Device, j.Version = r.NewID(), reason, person(a, b.me), a.Device, 1
		if err := tx.Rejudgements().InsertRejudgement(ctx, j); err != nil {
			return err
		}
		return r.note(ctx, tx, a, b.me, siteID, rejudgementEvent("rejudgement.decide", j))
	})
	return j, err
}

// ContinueRejudging carries out what is left of every running decision, on all
// sites. An error stops the one it belongs to; it is taken up the next time.
func (r *Register) ContinueRejudging(ctx context.Context) error {
	var running []defects.Rejudgement
	err := r.Store.Read(ctx, func(tx Tx) (err error) {
		running, err = tx.Rejudgements().Rejudgements(ctx, "", maxRejudged)
		return err
	})
	if err != nil {
		return err
	}
	var failed []error
	for _, j := range running {
		if _, err := r.carryOn(ctx, j, 0); err != nil {
			failed = append(failed, fmt.Errorf("rejudgement %s: %w", j.ID, err))
		}
	}
	return errors.Join(failed...)
}

// carryOn does up to most parts of a decision, or all with 0.
func (r *Register) carryOn(ctx context.Context, j defects.Rejudgement, most int) (defects.Rejudgement, error) {
	for n := 0; j.State == defects.RejudgeRunning && (most == 0 || n < most); n++ {
		if err := r.Store.Write(ctx, func(tx Tx) (err error) {
			if j, err = tx.Rejudgements().Rejudgement(ctx, j.SiteID, j.ID); err != nil || j.State != defects.RejudgeRunning {
				return err
			}
			j, err = r.rejudgePart(ctx, tx, j)
			return err
		}); err != nil {
			return j, err
		}
	}
	return j, nil
}

// rejudgePart judges the next readings anew and moves the place on. When there
// are none left it judges the sets and closes the decision.
func (r *Register) rejudgePart(ctx context.Context, tx Tx, j defects.Rejudgement) (defects.Rejudgement, error) {
	a := Actor{AccountID: j.By.ID, Name: j.By.Name, Device: j.Device}
	m := defects.Membership{SiteID: j.SiteID, AccountID: j.By.ID, Name: j.By.Name, Role: j.By.Role}
	b, err := r.bench(ctx, tx, a, m, j.SiteID, nil)
	if err != nil {
		return j, err
	}
	if err := r.useSchedules(ctx, tx, b, j); err != nil {
		return j, err
	}
	list, err := tx.Readings().ListReadings(ctx, filterOf(j), Page{Limit: rejudgeChunk, After: j.Place})
	if err != nil {
		return j, err
	}
	if len(list) == 0 {
		return r.finishRejudging(ctx, tx, b, j)
	}
	for _, before := range list {
		after, ok := b.again(j, before)
		if !ok {
			continue
		}
		j.Tally.Add(before.Verdict.Outcome, after.Verdict.Outcome, before.SnagNumber)
		if err := tx.Readings().UpdateReading(ctx, after); err != nil {
			return j, err
		}
		if err := r.note(ctx, tx, a, m, j.SiteID, rejudgedEvent(before, after, j.Reason, j.ID)); err != nil {
			return j, err
		}
	}
	j.Place = CursorOfReading(list[len(list)-1])
	err = tx.Rejudgements().UpdateRejudgement(ctx, j)
	j.Version++
	return j, err
}

func (r *Register) finishRejudging(ctx context.Context, tx Tx, b *bench, j defects.Rejudgement) (defects.Rejudgement, error) {
	sets, err := setsOf(ctx, tx, j)
	if err != nil {
		return j, err
	}
	for _, before := range sets {
		after, err := r.judgeOneSet(ctx, tx, b, before.ID)
		if err != nil {
			return j, err
		}
		j.Tally.AddSet(before.Verdict.Outcome, after.Verdict.Outcome)
	}
	if err := surveysOf(ctx, tx, &j, func(s defects.Survey) (defects.Survey, error) {
		return r.surveyAnew(ctx, tx, b, s, j.Reason, j.ID)
	}); err != nil {
		return j, err
	}
	j.State = defects.RejudgeDone
	if err := tx.Rejudgements().UpdateRejudgement(ctx, j); err != nil {
		return j, err
	}
	j.Version++
	return j, r.note(ctx, tx, b.actor, b.me, j.SiteID, rejudgementEvent(rejudgementDone, j))
}

// rejudgeBench checks an order and makes a decision of it that is not stored.
func (r *Register) rejudgeBench(ctx context.Context, tx Tx, a Actor, siteID string, o RejudgeOrder) (*bench, defects.Rejudgement, error) {
	j := defects.Rejudgement{
		SiteID: siteID, Stage: strings.TrimSpace(o.Stage), Quantity: strings.TrimSpace(o.Quantity),
		At: r.Now(), State: defects.RejudgeRunning,
	}
	m, err := r.permit(ctx, tx, a, siteID, defects.SetLimits)
	if err != nil {
		return nil, j, err
	}
	b, err := r.bench(ctx, tx, a, m, siteID, nil)
	if err != nil {
		return nil, j, err
	}
	if _, ok := defects.QuantityByName(j.Quantity); j.Quantity != "" && !ok {
		return nil, j, defects.RefuseField(defects.Invalid, "quantity", "unknown_quantity", "there is no quantity "+shorten(j.Quantity, 60))
	}
	if j.Stage != "" && !defects.KnownStage(j.Stage) {
		return nil, j, defects.RefuseField(defects.Invalid, "stage", "unknown_stage", "there is no stage "+shorten(j.Stage, 20))
	}
	if o.ElevationID != "" {
		e, err := findElevation(b.elevations, o.ElevationID)
		if err != nil {
			return nil, j, err
		}
		j.ElevationID = e.ID
	}
	j.Rule, j.Guard, j.Schedules = b.site.Rule, b.site.Guard, slices.Clone(b.site.Schedules)
	if len(o.Schedules) > 0 {
		shelf, err := r.shelf(ctx, tx, siteID)
		if err != nil {
			return nil, j, err
		}
		if j.Schedules, err = shelf.refs(o.Schedules); err != nil {
			return nil, j, err
		}
	}
	if len(j.Schedules) == 0 {
		return nil, j, defects.RefuseField(defects.Invalid, "schedules", "no_schedule", "name a schedule: none is in force")
	}
	return b, j, r.useSchedules(ctx, tx, b, j)
}

// useSchedules makes the bench judge by what was decided, not by what is in
// force by now.
func (r *Register) useSchedules(ctx context.Context, tx Tx, b *bench, j defects.Rejudgement) (err error) {
	b.site.Schedules, b.site.Rule, b.site.Guard = j.Schedules, j.Rule, j.Guard
	b.rules, err = r.rules(ctx, tx, b.site)
	return err
}

// again judges a stored reading anew, unless it was withdrawn or entered after
// the decision.
func (b *bench) again(j defects.Rejudgement, rd defects.Reading) (defects.Reading, bool) {
	if rd.Withdrawn != "" || rd.EnteredAt.After(j.At) {
		return rd, false
	}
	b.judge(&rd)
	return rd, true
}

func filterOf(j defects.Rejudgement) ReadingFilter {
	return ReadingFilter{SiteID: j.SiteID, ElevationID: j.ElevationID, Stage: j.Stage, Quantity: j.Quantity}
}

// Rejudgements lists a site's decisions to judge anew, the newest first.
func (r *Register) Rejudgements(ctx context.Context, a Actor, siteID string) (list []defects.Rejudgement, err error) {
	err = r.Store.Read(ctx, func(tx Tx) error {
		if _, err := r.permit(ctx, tx, a, siteID, defects.ViewLog); err != nil {
			return err
		}
		list, err = tx.Rejudgements().Rejudgements(ctx, siteID, maxRejudged)
		return err
	})
	return list, err
}

// RunRejudger carries out decisions that a request left running, until ctx ends.
func (r *Register) RunRejudger(ctx context.Context) {
	tick := time.NewTicker(rejudgeTick)
	defer tick.Stop()
	for {
		if err := r.ContinueRejudging(ctx); err != nil && ctx.Err() == nil {
			r.Logger.ErrorContext(ctx, "readings wait to be judged anew", "error", err)
		}
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
	}
}
