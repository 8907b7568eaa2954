package register

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"

	"storeyrod/defects"
)

// defaultStraightedge is the longest straightedge that a survey is judged with
// when none is stated, in metres (common practice, no source).
const defaultStraightedge = "4"

// SurveyInput is a line and level survey as somebody typed or sent it. Lengths
// are metres as text, offsets the text that defects.ParseOffsets reads.
type SurveyInput struct {
	ElevationID  string // id, "Building / Name", or a name used once on the site
	Stage        string
	DX, DZ       string
	X, Z         string // of the bottom left point; "" = 0
	Offsets      string
	Straightedge string // "" = 4
	Expanded     string // U (k = 2) of one offset in mm; "" = the instrument's
	InstrumentID string // id or name
	MeasuredAt   string // RFC 3339; "" = now
	ByLogin      string // "" = the actor
	Note         string
}

// SurveyPage is one page of a list of surveys, without their offsets. Next is ""
// on the last page.
type SurveyPage struct {
	Items []defects.Survey
	Next  string
}

// SurveyView is a survey with what follows from it.
type SurveyView struct {
	defects.Survey
	Elevation defects.Elevation
	Verdict   defects.SurveyVerdict // by what it was judged by
	Past      []PastSurveyVerdict   // that it was judged anew, the oldest first
}

// PastSurveyVerdict is one time that a survey was judged anew.
type PastSurveyVerdict struct {
	At            time.Time
	By, Role      string
	Reason        string
	Before, After JudgedSurveyThen
}

// JudgedSurveyThen is what a survey had come to.
type JudgedSurveyThen struct {
	Outcome         defects.Outcome
	Schedules       []string
	Flatness, Plumb JudgedThen
}

// AddSurvey judges and stores a survey.
func (r *Register) AddSurvey(ctx context.Context, a Actor, siteID string, in SurveyInput) (defects.Survey, error) {
	s, err := surveyOf(in)
	if err != nil {
		return s, err
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
		if err := b.placeSurvey(&s, in); err != nil {
			return err
		}
		if err := b.judgeSurvey(&s); err != nil {
			return err
		}
		s.ID, s.Version = r.NewID(), 1
		if err := tx.Surveys().InsertSurvey(ctx, s); err != nil {
			return err
		}
		return r.note(ctx, tx, a, m, siteID, surveyEvent(s))
	})
	return s, err
}

// surveyOf reads what needs no look at the site.
func surveyOf(in SurveyInput) (defects.Survey, error) {
	g, kept, err := defects.ParseOffsets(in.Offsets)
	s := defects.Survey{Columns: g.Columns, Rows: g.Rows, Offsets: kept}
	if err != nil {
		return s, err
	}
	longest := strings.TrimSpace(in.Straightedge)
	if longest == "" {
		longest = defaultStraightedge
	}
	for _, l := range []struct {
		field, text string
		needed      bool
		to          *defects.MM
	}{
		{"dx_m", in.DX, true, &s.DX},
		{"dz_m", in.DZ, true, &s.DZ},
		{"x_m", in.X, false, &s.X},
		{"z_m", in.Z, false, &s.Z},
		{"straightedge_m", longest, true, &s.Longest},
	} {
		mm, err := optionalMetres(l.field, l.text)
		switch {
		case err != nil:
			return s, err
		case mm != nil:
			*l.to = *mm
		case l.needed:
			return s, defects.RefuseField(defects.Invalid, l.field, "length_missing", "state it in metres")
		}
	}
	if s.Expanded, err = optionalDecimal("expanded_uncertainty", in.Expanded, true); err != nil {
		return s, err
	}
	s.Stage = strings.TrimSpace(in.Stage)
	if err := checkStage(s.Stage); err != nil {
		return s, err
	}
	s.Note, err = cleanNote("note", in.Note)
	return s, err
}

// placeSurvey settles who measured, when, with what and where.
func (b *bench) placeSurvey(s *defects.Survey, in SurveyInput) error {
	rd := defects.Reading{}
	row := ReadingInput{ByLogin: in.ByLogin, MeasuredAt: in.MeasuredAt, InstrumentID: strings.TrimSpace(in.InstrumentID)}
	for _, step := range []func(*defects.Reading, ReadingInput) error{b.takePerson, b.takeTime, b.takeTool} {
		if err := step(&rd, row); err != nil {
			return err
		}
	}
	named := strings.TrimSpace(in.ElevationID)
	if named == "" {
		return defects.RefuseField(defects.Invalid, "elevation", "elevation_missing", "name the elevation that was surveyed")
	}
	wall, err := findElevation(b.elevations, named)
	if err != nil {
		return err
	}
	s.SiteID, s.ElevationID = b.site.ID, wall.ID
	s.ByID, s.ByName, s.MeasuredAt = rd.ByID, rd.ByName, rd.MeasuredAt
	s.InstrumentID, s.Instrument = rd.InstrumentID, rd.Instrument
	s.EnteredBy, s.EnteredName, s.EnteredAt = b.actor.AccountID, b.actor.Name, b.now
	return defects.CheckSurvey(wall, *s)
}

// judgeSurvey judges by the schedules of the bench and keeps what governs.
func (b *bench) judgeSurvey(s *defects.Survey) error {
	expanded, expired := b.uncertainty(defects.Reading{InstrumentID: s.InstrumentID, Unit: "mm", MeasuredAt: s.MeasuredAt})
	if s.Expanded != nil {
		expanded = s.Expanded
	}
	s.Judged = defects.SurveyJudged{
		Schedules: slices.Clone(b.site.Schedules), Rule: b.site.Rule, Guard: b.site.Guard, Expanded: expanded, CalibrationExpired: expired,
	}
	v, err := defects.JudgeStored(*s, s.Judged, b.rules)
	if err != nil {
		return err
	}
	s.Judged.Keep(v)
	return nil
}

// Survey is one survey with every finding, by the schedules it was judged by:
// these never change under their version.
func (r *Register) Survey(ctx context.Context, a Actor, siteID, id string) (SurveyView, error) {
	var v SurveyView
	err := r.Store.Read(ctx, func(tx Tx) (err error) {
		if _, err = r.permit(ctx, tx, a, siteID, defects.ViewSite); err != nil {
			return err
		}
		if v.Survey, err = tx.Surveys().Survey(ctx, siteID, id); err != nil {
			return err
		}
		if v.Elevation, err = tx.Walls().Elevation(ctx, siteID, v.ElevationID); err != nil {
			return err
		}
		rules, err := r.rules(ctx, tx, defects.Site{ID: siteID, Schedules: v.Judged.Schedules})
		if err != nil {
			return err
		}
		if v.Verdict, err = defects.JudgeStored(v.Survey, v.Judged, rules); err != nil {
			return err
		}
		v.Past, err = pastSurveyVerdicts(ctx, tx, siteID, id)
		return err
	})
	return v, err
}

func pastSurveyVerdicts(ctx context.Context, tx Tx, siteID, id string) ([]PastSurveyVerdict, error) {
	encoded, err := tx.Log().EntriesOf(ctx, siteID, "survey", id)
	if err != nil {
		return nil, err
	}
	entries, err := decodeEntries(encoded)
	if err != nil {
		return nil, err
	}
	var out []PastSurveyVerdict
	for _, e := range entries {
		if e.Kind != surveyRejudged {
			continue
		}
		var d struct {
			Reason        string
			Before, After judgedData
		}
		if err := json.Unmarshal(e.Data, &d); err != nil {
			return nil, fmt.Errorf("verdict in log entry %d: %w", e.Seq, err)
		}
		out = append(out, PastSurveyVerdict{
			At: e.At, By: e.Actor.Name, Role: e.Actor.Role, Reason: d.Reason, Before: d.Before.then(), After: d.After.then(),
		})
	}
	return out, nil
}

// ListSurveys lists a site's surveys, the newest measured first.
func (r *Register) ListSurveys(ctx context.Context, a Actor, f SurveyFilter, page Page) (SurveyPage, error) {
	var out SurveyPage
	f.Whole = false
	err := r.Store.Read(ctx, func(tx Tx) error {
		if _, err := r.permit(ctx, tx, a, f.SiteID, defects.ViewSite); err != nil {
			return err
		}
		var err error
		out.Items, out.Next, err = pageOf(page, func(p Page) ([]defects.Survey, error) {
			return tx.Surveys().ListSurveys(ctx, f, p)
		}, CursorOfSurvey)
		return err
	})
	return out, err
}

// WithdrawSurvey takes a survey out of use with a reason; it stays in the
// register. Who measured or entered it may, and those with the permission for
// another's.
func (r *Register) WithdrawSurvey(ctx context.Context, a Actor, siteID, id string, version int, reason string) (defects.Survey, error) {
	reason, err := neededReason(reason)
	if err != nil {
		return defects.Survey{}, err
	}
	var after defects.Survey
	err = r.Store.Write(ctx, func(tx Tx) error {
		m, err := r.member(ctx, tx, a, siteID)
		if err != nil {
			return err
		}
		if after, err = tx.Surveys().Survey(ctx, siteID, id); err != nil {
			return err
		}
		if err := mayTakeBack(m, after.ByID, after.EnteredBy); err != nil {
			return err
		}
		if err := stillStanding("survey", version, after.Version, after.Withdrawn); err != nil {
			return err
		}
		after.Withdrawn = reason
		if err := tx.Surveys().UpdateSurvey(ctx, after); err != nil {
			return err
		}
		after.Version++
		return r.note(ctx, tx, a, m, siteID, goneEvent("survey", id, reason))
	})
	return after, err
}

// mayTakeBack says who may withdraw what was measured: whoever measured or
// entered it, and those with the permission for another's.
func mayTakeBack(m defects.Membership, by, enteredBy string) error {
	own := by == m.AccountID || enteredBy == m.AccountID
	if m.Role.May(defects.WithdrawReading) || (own && m.Role.May(defects.AddReading)) {
		return nil
	}
	return defects.RefuseRole(string(m.Role), string(defects.WithdrawReading), defects.RoleNames(defects.WhoMay(defects.WithdrawReading)))
}

// stillStanding refuses what was changed meanwhile, or is withdrawn.
func stillStanding(what string, seen, version int, withdrawn string) error {
	if err := checkVersion(seen, version, what); err != nil {
		return err
	}
	if withdrawn != "" {
		return defects.Refuse(defects.Conflict, what+"_withdrawn", "the "+what+" was withdrawn: "+withdrawn)
	}
	return nil
}

// RejudgeSurvey judges a stored survey under the schedules now in force. It is for
// those who set the limits; the verdict it replaces stays in the log.
func (r *Register) RejudgeSurvey(ctx context.Context, a Actor, siteID, id string, version int, reason string) (defects.Survey, error) {
	reason, err := neededReason(reason)
	if err != nil {
		return defects.Survey{}, err
	}
	var after defects.Survey
	err = r.Store.Write(ctx, func(tx Tx) error {
		m, err := r.permit(ctx, tx, a, siteID, defects.SetLimits)
		if err != nil {
			return err
		}
		before, err := tx.Surveys().Survey(ctx, siteID, id)
		if err != nil {
			return err
		}
		if err := stillStanding("survey", version, before.Version, before.Withdrawn); err != nil {
			return err
		}
		b, err := r.bench(ctx, tx, a, m, siteID, nil)
		if err != nil {
			return err
		}
		after, err = r.surveyAnew(ctx, tx, b, before, reason, "")
		return err
	})
	return after, err
}

// surveyAnew stores and logs a survey's verdict under the schedules of the bench.
func (r *Register) surveyAnew(ctx context.Context, tx Tx, b *bench, before defects.Survey, reason, by string) (defects.Survey, error) {
	after := before
	if err := b.judgeSurvey(&after); err != nil {
		return after, err
	}
	if err := tx.Surveys().UpdateSurvey(ctx, after); err != nil {
		return after, err
	}
	after.Version++
	return after, r.note(ctx, tx, b.actor, b.me, b.site.ID, surveyRejudgedEvent(before, after, reason, by))
}

// surveysOf hands on the surveys that a decision is about, those of its elevation
// and stage, when it is about flatness or plumb, and counts what each becomes.
func surveysOf(ctx context.Context, tx Tx, j *defects.Rejudgement, each func(defects.Survey) (defects.Survey, error)) error {
	if j.Quantity != "" && j.Quantity != "flatness" && j.Quantity != "plumb" {
		return nil
	}
	filter := SurveyFilter{SiteID: j.SiteID, ElevationID: j.ElevationID, Stage: j.Stage, Whole: true}
	return allOf(func(p Page) ([]defects.Survey, error) {
		return tx.Surveys().ListSurveys(ctx, filter, p)
	}, CursorOfSurvey, func(s defects.Survey) error {
		if s.Withdrawn != "" || s.EnteredAt.After(j.At) {
			return nil
		}
		after, err := each(s)
		j.Tally.AddSurvey(s.Judged.Outcome, after.Judged.Outcome)
		return err
	})
}
