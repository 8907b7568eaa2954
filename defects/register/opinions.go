package register

import (
	"context"
	"fmt"
	"slices"

	"storeyrod/defects"
)

const (
	maxOpinions      = 8   // schedules side by side
	maxDisagreements = 200 // readings listed by name
)

// Opinion is one reading under several schedules, in their order.
type Opinion struct {
	Reading  defects.Reading
	Verdicts []defects.Verdict
}

// Differ reports that two schedules that gave a verdict gave different ones.
func (o Opinion) Differ() bool {
	return differ(len(o.Verdicts), func(k int) defects.Outcome { return o.Verdicts[k].Outcome })
}

func differ(n int, outcome func(int) defects.Outcome) bool {
	var first defects.Outcome
	for k := range n {
		switch next := outcome(k); {
		case next == defects.NoVerdict:
		case first == "":
			first = next
		case next != first:
			return true
		}
	}
	return false
}

// Opinions is what several schedules say of the standing readings of a site or
// an elevation. Nothing of it is stored.
type Opinions struct {
	Schedules []string // name@version
	Readings  int
	Counts    []map[defects.Outcome]int // by schedule
	Differing int
	Disagree  []Opinion // the newest measured, two hundred at most
}

// OpinionsOn judges one reading by several schedules side by side. Without any
// named, those in force are taken.
func (r *Register) OpinionsOn(ctx context.Context, a Actor, siteID, readingID string, schedules []string) (Opinion, error) {
	var o Opinion
	err := r.Store.Read(ctx, func(tx Tx) error {
		b, _, err := r.opinionBench(ctx, tx, a, siteID, schedules)
		if err != nil {
			return err
		}
		if o.Reading, err = tx.Readings().Reading(ctx, siteID, readingID); err != nil {
			return err
		}
		if err := mayRead(b.me, o.Reading); err != nil {
			return err
		}
		o = b.opinion(o.Reading)
		return nil
	})
	return o, err
}

// OpinionsOver judges all standing readings of an elevation, or of the site
// with "", and lists those on which the schedules do not agree.
func (r *Register) OpinionsOver(ctx context.Context, a Actor, siteID, elevationID string, schedules []string) (Opinions, error) {
	var out Opinions
	err := r.Store.Read(ctx, func(tx Tx) error {
		b, refs, err := r.opinionBench(ctx, tx, a, siteID, schedules)
		if err != nil {
			return err
		}
		f := ReadingFilter{SiteID: siteID}
		if elevationID != "" {
			e, err := findElevation(b.elevations, elevationID)
			if err != nil {
				return err
			}
			f.ElevationID = e.ID
		}
		out = Opinions{Schedules: refs}
		for range refs {
			out.Counts = append(out.Counts, map[defects.Outcome]int{})
		}
		if !forceGang(b.me, &f.Gang) {
			return nil
		}
		page := Page{Limit: rejudgeChunk}
		for {
			list, err := tx.Readings().ListReadings(ctx, f, page)
			if err != nil || len(list) == 0 {
				return err
			}
			out.add(b, list)
			page.After = CursorOfReading(list[len(list)-1])
		}
	})
	return out, err
}

// add judges readings by each schedule. Only those on which the schedules do not
// agree are spelt out, and no more of them than are listed.
func (o *Opinions) add(b *bench, list []defects.Reading) {
	list = slices.DeleteFunc(list, func(rd defects.Reading) bool { return rd.Withdrawn != "" })
	inputs := make([]defects.Input, len(list))
	for i, rd := range list {
		inputs[i] = b.input(rd)
	}
	judged := make([][]defects.Judgement, len(b.rules))
	for k, l := range b.rules {
		judged[k] = defects.JudgeAll(nil, inputs, l, b.site.Rule, b.site.Guard)
		for _, j := range judged[k] {
			o.Counts[k][j.Outcome]++
		}
	}
	o.Readings += len(list)
	for i, rd := range list {
		if !differ(len(b.rules), func(k int) defects.Outcome { return judged[k][i].Outcome }) {
			continue
		}
		if o.Differing++; len(o.Disagree) < maxDisagreements {
			o.Disagree = append(o.Disagree, b.opinion(rd))
		}
	}
}

func (b *bench) opinion(rd defects.Reading) Opinion {
	in, o := b.input(rd), Opinion{Reading: rd}
	for _, l := range b.rules {
		o.Verdicts = append(o.Verdicts, defects.Judge(in, l, b.site.Rule, b.site.Guard))
	}
	return o
}

// opinionBench is a bench whose rules are the chosen schedules, in the order of
// precedence, with their names.
func (r *Register) opinionBench(ctx context.Context, tx Tx, a Actor, siteID string, schedules []string) (*bench, []string, error) {
	m, err := r.permit(ctx, tx, a, siteID, defects.ViewSite)
	if err != nil {
		return nil, nil, err
	}
	b, err := r.bench(ctx, tx, a, m, siteID, nil)
	if err != nil {
		return nil, nil, err
	}
	if len(schedules) > maxOpinions {
		return nil, nil, defects.RefuseField(defects.Invalid, "schedule", "too_many_schedules", fmt.Sprintf("at most %d side by side", maxOpinions))
	}
	if len(schedules) > 0 {
		shelf, err := r.shelf(ctx, tx, siteID)
		if err != nil {
			return nil, nil, err
		}
		if b.site.Schedules, err = shelf.refs(schedules); err != nil {
			return nil, nil, err
		}
	}
	if b.rules, err = r.rules(ctx, tx, b.site); err != nil {
		return nil, nil, err
	}
	refs := make([]string, len(b.rules))
	for i, l := range b.rules {
		refs[i] = l.Ref()
	}
	return b, refs, nil
}
