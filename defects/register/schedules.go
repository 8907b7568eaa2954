package register

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"slices"
	"strings"
	"sync"
	"time"

	"storeyrod/defects"
	"storeyrod/defects/reference"
)

const (
	maxScheduleBytes = 128 << 10 // of a project's own: the log entry carries it whole
	maxInForce       = 20        // schedules on one site
	maxCached        = 500       // compiled schedules kept in memory
)

// ruleCache keeps compiled schedules. A schedule never changes under its
// version, so nothing in it goes stale.
type ruleCache struct {
	mu       sync.Mutex
	compiled map[string]*defects.Limits
}

func (c *ruleCache) get(key string, compile func() (*defects.Limits, error)) (*defects.Limits, error) {
	c.mu.Lock()
	l := c.compiled[key]
	c.mu.Unlock()
	if l != nil {
		return l, nil
	}
	l, err := compile()
	if err != nil {
		return nil, err
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.compiled == nil || len(c.compiled) >= maxCached {
		c.compiled = map[string]*defects.Limits{}
	}
	c.compiled[key] = l
	return l, nil
}

// rules gives the compiled schedules in force on a site, the governing one
// first. What is in force is stored as name@version, so a newer version of a
// schedule is not used until somebody chooses it.
func (r *Register) rules(ctx context.Context, tx Tx, site defects.Site) ([]*defects.Limits, error) {
	var own *shelf // read from the store once, and only when a schedule is not in memory
	out := make([]*defects.Limits, 0, len(site.Schedules))
	for _, ref := range site.Schedules {
		_, builtIn := reference.Schedule(ref)
		key := ref
		if !builtIn {
			key = site.ID + "/" + ref
		}
		l, err := r.cache.get(key, func() (*defects.Limits, error) {
			if own == nil {
				s, err := r.shelf(ctx, tx, site.ID)
				if err != nil {
					return nil, err
				}
				own = &s
			}
			sched, ok := own.find(ref)
			if !ok {
				return nil, fmt.Errorf("schedule %s of site %s is in force but not stored", ref, site.ID)
			}
			return defects.Compile(sched)
		})
		if err != nil {
			return nil, err
		}
		out = append(out, l)
	}
	return defects.LimitsByPrecedence(out), nil
}

// shelf is what a site can choose from: its own schedules and the built-in ones.
type shelf struct {
	own []defects.Schedule // by name, then version
}

// shelf reads a site's own schedules; "" has none.
func (r *Register) shelf(ctx context.Context, tx Tx, siteID string) (shelf, error) {
	var s shelf
	if siteID == "" {
		return s, nil
	}
	stored, err := tx.Schedules().Schedules(ctx, siteID)
	if err != nil {
		return s, err
	}
	for _, one := range stored {
		sched, err := reference.ParseSchedule(bytes.NewReader(one.Document))
		if err != nil {
			return s, fmt.Errorf("stored schedule %s@%d: %w", one.Name, one.Version, err)
		}
		s.own = append(s.own, sched)
	}
	return s, nil
}

// find looks up "name@version", or the newest version of "name".
func (s shelf) find(ref string) (defects.Schedule, bool) {
	if sched, ok := reference.Schedule(ref); ok {
		return sched, true
	}
	var newest defects.Schedule
	name, _, exact := strings.Cut(ref, "@")
	for _, one := range s.own {
		if one.Name == name && one.Version > newest.Version && (!exact || defects.ScheduleRef(one) == ref) {
			newest = one
		}
	}
	return newest, newest.Version > 0
}

// refs checks a choice of schedules, pins each to its version and puts them in
// the order of precedence.
func (s shelf) refs(chosen []string) ([]string, error) {
	if len(chosen) > maxInForce {
		return nil, defects.RefuseField(defects.Invalid, "schedules", "too_many_schedules", fmt.Sprintf("at most %d", maxInForce))
	}
	var out []string
	var list []defects.Schedule
	for i, ref := range chosen {
		field := fmt.Sprintf("schedules[%d]", i)
		sched, ok := s.find(strings.TrimSpace(ref))
		if !ok {
			return nil, defects.RefuseField(defects.Invalid, field, "unknown_schedule", fmt.Sprintf("there is no schedule %q", shorten(ref, 80)))
		}
		pinned := defects.ScheduleRef(sched)
		if slices.Contains(out, pinned) {
			return nil, defects.RefuseField(defects.Invalid, field, "schedule_twice", pinned+" is in the list twice")
		}
		out, list = append(out, pinned), append(list, sched)
	}
	for i, sched := range defects.ByPrecedence(list) {
		out[i] = defects.ScheduleRef(sched)
	}
	return out, nil
}

// AddSchedule stores a project's own schedule, in the form of
// reference.EncodeSchedule, as the next version of its name; the version in the
// file is not used. It is not in force until UpdateSite chooses it. A built-in
// schedule's name answers Conflict "name_taken".
func (r *Register) AddSchedule(ctx context.Context, a Actor, siteID string, src io.Reader) (defects.Schedule, error) {
	sched, err := readSchedule(src)
	if err != nil {
		return sched, err
	}
	err = r.Store.Write(ctx, func(tx Tx) error {
		sched, err = r.storeSchedule(ctx, tx, a, siteID, sched)
		return err
	})
	return sched, err
}

// ComposeSchedule puts a project's own schedule together from lines of others,
// as defects.Compose does, and stores it as the next version of its name. It is
// not in force until UpdateSite chooses it. A line may come from any built-in
// schedule or from one of the site's own.
func (r *Register) ComposeSchedule(ctx context.Context, a Actor, siteID string, c defects.Composition) (sched defects.Schedule, err error) {
	err = r.Store.Write(ctx, func(tx Tx) error {
		if _, err := r.permit(ctx, tx, a, siteID, defects.SetLimits); err != nil {
			return err
		}
		if err := r.checkAgreed(c); err != nil {
			return err
		}
		shelf, err := r.shelf(ctx, tx, siteID)
		if err != nil {
			return err
		}
		if sched, err = defects.Compose(c, shelf.find); err != nil {
			return err
		}
		document, err := reference.EncodeSchedule(sched)
		if err != nil {
			return err
		}
		if sched, err = readSchedule(bytes.NewReader(document)); err != nil {
			return err
		}
		sched, err = r.storeSchedule(ctx, tx, a, siteID, sched)
		return err
	})
	return sched, err
}

// checkAgreed refuses a day that is none or is still to come.
func (r *Register) checkAgreed(c defects.Composition) error {
	if c.Agreed.On == "" {
		return nil // Compose asks for it
	}
	day, err := time.Parse(time.DateOnly, c.Agreed.On)
	if err != nil || day.After(r.Now().Add(24*time.Hour)) {
		return defects.RefuseField(defects.Invalid, "agreed_on", "bad_date", "must be a day such as 2026-05-09, not later than today")
	}
	if c.Rank == defects.StandardRank || c.Rank == defects.PracticeRank {
		return defects.RefuseField(defects.Invalid, "rank", "bad_rank", "what a project agrees ranks as law, contract, project or approval")
	}
	return nil
}

// storeSchedule stores a schedule as the next version of its name.
func (r *Register) storeSchedule(ctx context.Context, tx Tx, a Actor, siteID string, sched defects.Schedule) (defects.Schedule, error) {
	m, err := r.permit(ctx, tx, a, siteID, defects.SetLimits)
	if err != nil {
		return sched, err
	}
	there, err := tx.Schedules().Schedules(ctx, siteID)
	if err != nil {
		return sched, err
	}
	sched.Version = 1
	for _, one := range there {
		if one.Name == sched.Name {
			sched.Version = max(sched.Version, one.Version+1)
		}
	}
	document, err := reference.EncodeSchedule(sched)
	if err != nil {
		return sched, err
	}
	stored := StoredSchedule{Name: sched.Name, Version: sched.Version, Document: document, AddedBy: a.AccountID, AddedAt: r.Now()}
	if err := tx.Schedules().InsertSchedule(ctx, siteID, stored); err != nil {
		return sched, err
	}
	return sched, r.note(ctx, tx, a, m, siteID, change{
		kind: "schedule.add", typ: "schedule", id: defects.ScheduleRef(sched), data: scheduleEvent(stored),
	})
}

// readSchedule takes a schedule in, checked and of a size the log can carry.
func readSchedule(src io.Reader) (defects.Schedule, error) {
	sched, err := reference.ParseSchedule(src)
	if err != nil {
		return defects.Schedule{}, err
	}
	if _, builtIn := reference.Schedule(sched.Name); builtIn {
		return defects.Schedule{}, defects.RefuseField(defects.Conflict, "name", "name_taken", "a built-in schedule has this name; choose another")
	}
	document, err := reference.EncodeSchedule(sched)
	if err != nil {
		return defects.Schedule{}, err
	}
	if len(document) > maxScheduleBytes {
		return defects.Schedule{}, defects.RefuseField(defects.TooLarge, "", "schedule_too_large", "a project's schedule holds at most 128 KiB")
	}
	return sched, nil
}

// SchedulesOf lists the schedules in force on a site, the governing one first,
// and all it can choose from: the built-in ones, then its own by name and
// version.
func (r *Register) SchedulesOf(ctx context.Context, a Actor, siteID string) (inForce, all []defects.Schedule, err error) {
	err = r.Store.Read(ctx, func(tx Tx) error {
		if _, err := r.permit(ctx, tx, a, siteID, defects.ViewSite); err != nil {
			return err
		}
		site, err := tx.Sites().Site(ctx, siteID)
		if err != nil {
			return err
		}
		shelf, err := r.shelf(ctx, tx, siteID)
		if err != nil {
			return err
		}
		for _, ref := range site.Schedules {
			sched, ok := shelf.find(ref)
			if !ok {
				return fmt.Errorf("schedule %s of site %s is in force but not stored", ref, siteID)
			}
			inForce = append(inForce, sched)
		}
		inForce = defects.ByPrecedence(inForce)
		all = append(reference.Schedules(), shelf.own...)
		return nil
	})
	return inForce, all, err
}
