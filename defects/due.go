package defects

import (
	"cmp"
	"slices"
	"time"
)

// DueOf gives the date that matters for a snag: the earliest of its own due
// date, the cover-ups that hide its stage at its place, the strike of its
// scaffold, and practical completion. What was past when the snag was raised
// takes nothing away any more. Of one day's clocks the harder one is named:
// cover-up, strike, completion, then the instruction. A snag that is not open
// has none.
func DueOf(s Snag, milestones []Milestone, stages []Stage) Due {
	if all := DuesOf(s, milestones, stages); len(all) > 0 {
		return all[0]
	}
	return Due{}
}

// DuesOf gives every date that applies to a snag, the one that matters first
// (see DueOf): a place that is struck in May may be covered up in April as well.
func DuesOf(s Snag, milestones []Milestone, stages []Stage) []Due {
	if !s.State.Open() {
		return nil
	}
	var due []Due
	if day := ownDue(s); day != "" {
		due = append(due, Due{On: day, Reason: DueOwn, Text: ownDueText(s)})
	}
	raised := ""
	if !s.RaisedAt.IsZero() {
		raised = s.RaisedAt.UTC().Format(dayForm)
	}
	for _, m := range milestones {
		if m.On >= raised && m.Covers(s.Place) && takesAway(m, s.Stage) {
			due = append(due, Due{On: m.On, Reason: reasonOf(m.Kind), Text: m.Words(stages), MilestoneID: m.ID})
		}
	}
	slices.SortFunc(due, func(a, b Due) int {
		return cmp.Or(cmp.Compare(a.On, b.On), cmp.Compare(hardness(a.Reason), hardness(b.Reason)),
			cmp.Compare(a.Text, b.Text), cmp.Compare(a.MilestoneID, b.MilestoneID))
	})
	return due
}

// OverdueDays is how many days a date is past on a day of the site's calendar,
// both "2006-01-02"; 0 on the date itself, before it, and without one.
func OverdueDays(due, today string) int {
	d, err := time.Parse(dayForm, due)
	if err != nil {
		return 0
	}
	t, err := time.Parse(dayForm, today)
	if err != nil || !t.After(d) {
		return 0
	}
	return int(t.Sub(d).Hours()) / 24 // both at midnight UTC: whole days
}

// ownDue is the day a person set: of the instruction, or of the deferral while
// it lasts. A deferral to an event has none.
func ownDue(s Snag) string {
	if s.State != Deferred {
		return s.OwnDue
	}
	if _, err := time.Parse(dayForm, s.DeferUntil); err != nil {
		return ""
	}
	return s.DeferUntil
}

func ownDueText(s Snag) string {
	if s.State == Deferred {
		return "deferred until then"
	}
	return "as instructed"
}

// takesAway reports whether a milestone takes a stage's work away: a strike and
// the completion take all, a cover-up what comes before its own stage. A stage
// outside the sequence counts as hidden, since nothing shows that it is not.
func takesAway(m Milestone, stage string) bool {
	if m.Kind != CoverUp {
		return true
	}
	own, next := StageOrder(stage), StageOrder(m.Stage)
	return own == 0 || next == 0 || next > own
}

func reasonOf(k MilestoneKind) DueReason {
	switch k {
	case CoverUp:
		return DueCoverUp
	case Strike:
		return DueStrike
	}
	return DueCompletion
}

func hardness(r DueReason) int {
	return slices.Index([]DueReason{DueCoverUp, DueStrike, DueCompletion, DueOwn}, r)
}

// Covers reports whether a milestone is for a place. A place whose bay or lift
// is unclear counts as inside, since nothing shows that it is not.
func (m Milestone) Covers(p Place) bool {
	return m.area().holds(p)
}

func (m Milestone) area() Area {
	return Area{ElevationID: m.ElevationID, BayFrom: m.BayFrom, BayTo: m.BayTo, LiftFrom: m.LiftFrom, LiftTo: m.LiftTo}
}

// Words says what happens, and where: "scaffold strike, bays 1–4".
func (m Milestone) Words(stages []Stage) string { return m.What(stages) + m.area().words() }

// What says what happens: "scaffold strike", "Slips and adhesive starts".
func (m Milestone) What(stages []Stage) string {
	switch m.Kind {
	case CoverUp:
		return stageName(stages, m.Stage) + " starts"
	case Strike:
		return "scaffold strike"
	case Completion:
		return "practical completion"
	}
	return string(m.Kind)
}

func stageName(stages []Stage, code string) string {
	for _, st := range stages {
		if st.Code == code {
			return st.Name
		}
	}
	return code
}

// NextCoverUp finds the first cover-up, from a day on, that hides a stage at a
// place, and says what it is; the day is empty when none is planned.
func NextCoverUp(stage string, p Place, from string, milestones []Milestone, stages []Stage) (on, what string) {
	for _, m := range milestones {
		if m.Kind == CoverUp && m.On >= from && m.Covers(p) && takesAway(m, stage) && (on == "" || m.On < on) {
			on, what = m.On, m.Words(stages)
		}
	}
	return on, what
}

// NextStrike finds the first scaffold strike at a place from a day on.
func NextStrike(p Place, from string, milestones []Milestone) string {
	on := ""
	for _, m := range milestones {
		if m.Kind == Strike && m.On >= from && m.Covers(p) && (on == "" || m.On < on) {
			on = m.On
		}
	}
	return on
}

// DefaultDue is the due date when an instruction names none: the next day for a
// critical snag, five working days for a major and ten for a minor one (common
// practice, no source). Working days are Monday to Friday; public holidays are
// not known here.
func DefaultDue(s Severity, day string) string {
	switch s {
	case Critical:
		return addDays(day, criticalDays)
	case Major:
		return addWorkingDays(day, majorWorkingDays)
	}
	return addWorkingDays(day, minorWorkingDays)
}

// PeriodEnds is the last day of a building's defects period, a whole number of
// months after practical completion; empty when it is not complete.
func PeriodEnds(b Building) string {
	t, err := time.Parse(dayForm, b.CompletedOn)
	if err != nil {
		return ""
	}
	months := b.DefectsMonths
	if months <= 0 {
		months = 12
	}
	end := t.AddDate(0, months, 0)
	if end.Day() != t.Day() { // 31 January plus a month: the last day of February
		end = end.AddDate(0, 0, -end.Day())
	}
	return end.Format(dayForm)
}

func addDays(day string, n int) string {
	t, err := time.Parse(dayForm, day)
	if err != nil {
		return ""
	}
	return t.AddDate(0, 0, n).Format(dayForm)
}

func addWorkingDays(day string, n int) string {
	t, err := time.Parse(dayForm, day)
	if err != nil {
		return ""
	}
	for n > 0 {
		t = t.AddDate(0, 0, 1)
		if t.Weekday() != time.Saturday && t.Weekday() != time.Sunday {
			n--
		}
	}
	return t.Format(dayForm)
}
