package register

import (
	"context"

	"storeyrod/defects"
)

// walls holds a site, its buildings, elevations, milestones and schedules to the log.
func (f *folding) walls(ctx context.Context, tx Tx, siteID string) error {
	site, err := tx.Sites().Site(ctx, siteID)
	if err != nil {
		return err
	}
	if err := f.row("site", siteID, siteEvent(nil, &site).After); err != nil {
		return err
	}
	buildings, err := tx.Walls().Buildings(ctx, siteID)
	if err != nil {
		return err
	}
	for _, b := range buildings {
		if err := f.row("building", b.ID, buildingEvent(nil, &b).After); err != nil {
			return err
		}
	}
	elevations, err := tx.Walls().Elevations(ctx, siteID)
	if err != nil {
		return err
	}
	for _, e := range elevations {
		if err := f.row("elevation", e.ID, elevationEvent(nil, &e).After); err != nil {
			return err
		}
	}
	milestones, err := tx.Sites().Milestones(ctx, siteID)
	if err != nil {
		return err
	}
	for _, m := range milestones {
		if err := f.row("milestone", m.ID, milestoneEvent(nil, &m).After); err != nil {
			return err
		}
	}
	return f.schedules(ctx, tx, siteID)
}

func (f *folding) schedules(ctx context.Context, tx Tx, siteID string) error {
	own, err := tx.Schedules().Schedules(ctx, siteID)
	if err != nil {
		return err
	}
	for _, s := range own {
		ref := defects.ScheduleRef(defects.Schedule{Name: s.Name, Version: s.Version})
		if err := f.row("schedule", ref, scheduleEvent(s)); err != nil {
			return err
		}
	}
	return nil
}

// tools holds instruments to the log.
func (f *folding) tools(ctx context.Context, tx Tx, siteID string) error {
	tools, err := tx.Tools().Instruments(ctx, siteID)
	if err != nil {
		return err
	}
	for _, i := range tools {
		if err := f.row("instrument", i.ID, instrumentEvent(nil, &i).After); err != nil {
			return err
		}
	}
	return nil
}

// members holds roles to the log. Names and logins are those of then in the log
// and those of now in a row, and are left out; so is who has no role any more.
func (f *folding) members(ctx context.Context, tx Tx, siteID string) error {
	now, err := tx.People().Memberships(ctx, MembershipFilter{SiteID: siteID})
	if err != nil {
		return err
	}
	for _, m := range now {
		if err := f.row("member", m.AccountID, roleOf(*memberOf(m))); err != nil {
			return err
		}
	}
	return nil
}

// roleOf is the part of a membership that the log and the row must agree in.
func roleOf(m memberData) memberData {
	return memberData{Account: m.Account, Role: m.Role, Gang: m.Gang}
}

// photos holds photos to the log.
func (f *folding) photos(ctx context.Context, tx Tx, siteID string) error {
	return allPhotos(ctx, tx, siteID, func(p defects.Photo) error { return f.row("photo", p.ID, photoOf(p)) })
}

// readings holds readings, sets, decisions to judge anew and answers to hold
// points to the log.
func (f *folding) readings(ctx context.Context, tx Tx, siteID string) error {
	readings, err := tx.Readings().ListReadings(ctx, ReadingFilter{SiteID: siteID}, everything())
	if err != nil {
		return err
	}
	for _, rd := range readings {
		data, _ := addedEvent(rd).data.(readingData)
		row, err := foldReading(data)
		if err != nil {
			return err
		}
		row.gone = rd.Withdrawn
		f.compare("reading", rd.ID, row)
	}
	sets, err := tx.Readings().Sets(ctx, siteID)
	if err != nil {
		return err
	}
	for _, s := range sets {
		row := folded{}
		if row.core, err = hashOf(setEvent("", s).data); err != nil {
			return err
		}
		if row.verdict, err = hashOf(setVerdictOf(s)); err != nil {
			return err
		}
		f.compare("set", s.ID, row)
	}
	if err := f.rejudgements(ctx, tx, siteID); err != nil {
		return err
	}
	return f.releases(ctx, tx, siteID)
}

// rejudgements holds decisions to judge anew to the log.
func (f *folding) rejudgements(ctx context.Context, tx Tx, siteID string) error {
	list, err := tx.Rejudgements().Rejudgements(ctx, siteID, 0)
	if err != nil {
		return err
	}
	for _, j := range list {
		row := folded{}
		if j.State == defects.RejudgeDone {
			if row.verdict, err = hashOf(rejudgementEvent("", j).data); err != nil {
				return err
			}
		}
		j.Tally = defects.Tally{}
		if row.core, err = hashOf(rejudgementEvent("", j).data); err != nil {
			return err
		}
		f.compare("rejudgement", j.ID, row)
	}
	return nil
}

// releases holds answers to hold points to the log, which says more of them
// than the rows do.
func (f *folding) releases(ctx context.Context, tx Tx, siteID string) error {
	answers, err := tx.Releases().Releases(ctx, siteID)
	if err != nil {
		return err
	}
	for _, r := range answers {
		key := subjectKey{"release", r.ID}
		if _, ok := f.states[key]; !ok {
			f.wrong("releases", r.ID, "is in no entry of the log")
		}
		delete(f.states, key)
	}
	return nil
}

// surveys holds line and level surveys to the log.
func (f *folding) surveys(ctx context.Context, tx Tx, siteID string) error {
	return allOf(func(p Page) ([]defects.Survey, error) {
		return tx.Surveys().ListSurveys(ctx, SurveyFilter{SiteID: siteID, Whole: true}, p)
	}, CursorOfSurvey, func(s defects.Survey) error {
		row, err := foldSurvey(surveyOfRow(s))
		row.gone = s.Withdrawn
		f.compare("survey", s.ID, row)
		return err
	})
}

// weather holds the lines of the weather log to the log.
func (f *folding) weather(ctx context.Context, tx Tx, siteID string) error {
	return allOf(func(p Page) ([]defects.WeatherLine, error) {
		return tx.Weather().ListWeather(ctx, WeatherFilter{SiteID: siteID}, p)
	}, CursorOfWeather, func(w defects.WeatherLine) error {
		core, err := hashOf(weatherOf(w))
		f.compare("weather", w.ID, folded{core: core, gone: w.Withdrawn})
		return err
	})
}
