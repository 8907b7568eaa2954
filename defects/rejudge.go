package defects

import (
	"cmp"
	"slices"
	"time"
)

// Rejudgement is one decision to judge stored readings anew under named versions
// of schedules. It is carried out in parts; old verdicts stay in the log.
type Rejudgement struct {
	ID          string
	SiteID      string
	ElevationID string   // "" = the whole site
	Stage       string   // "" = every stage
	Quantity    string   // "" = every quantity
	Schedules   []string // name@version, the governing one first
	Rule        Rule
	Guard       Decimal
	Reason      string
	By          Person
	Device      string
	At          time.Time // readings entered later are none of its business
	State       RejudgeState
	Place       string // where the next part begins
	Tally       Tally
	Version     int
}

// RejudgeState says how far a decision is carried out.
type RejudgeState string

// The states.
const (
	RejudgeRunning RejudgeState = "running"
	RejudgeDone    RejudgeState = "done"
)

// RejudgeStates lists them.
func RejudgeStates() []RejudgeState { return []RejudgeState{RejudgeRunning, RejudgeDone} }

// maxTallySnags bounds how many snags a tally names.
const maxTallySnags = 100

// Tally counts readings, sets and surveys by their outcome before and after.
type Tally struct {
	Lines   []TallyLine // of readings
	Sets    []TallyLine
	Surveys []TallyLine
	Snags   []int // snags that rest on readings whose outcome changed, the first hundred
}

// TallyLine is how many went from one outcome to another.
type TallyLine struct {
	Before, After Outcome
	N             int
}

// Add counts one reading.
func (t *Tally) Add(before, after Outcome, snag int) {
	t.Lines = counted(t.Lines, before, after)
	if snag != 0 && before != after && len(t.Snags) < maxTallySnags && !slices.Contains(t.Snags, snag) {
		t.Snags = append(t.Snags, snag)
	}
}

// AddSet counts one set.
func (t *Tally) AddSet(before, after Outcome) { t.Sets = counted(t.Sets, before, after) }

// AddSurvey counts one survey.
func (t *Tally) AddSurvey(before, after Outcome) { t.Surveys = counted(t.Surveys, before, after) }

func counted(lines []TallyLine, before, after Outcome) []TallyLine {
	if i := slices.IndexFunc(lines, func(l TallyLine) bool { return l.Before == before && l.After == after }); i >= 0 {
		lines[i].N++
		return lines
	}
	lines = append(lines, TallyLine{before, after, 1})
	slices.SortFunc(lines, func(a, b TallyLine) int {
		return cmp.Or(cmp.Compare(a.Before, b.Before), cmp.Compare(a.After, b.After))
	})
	return lines
}

// Total is how many readings were counted.
func (t Tally) Total() int { return TallyTotal(t.Lines) }

// Changed is how many readings have another outcome than before.
func (t Tally) Changed() int { return TallyChanged(t.Lines) }

// TallyTotal is how many were counted.
func TallyTotal(lines []TallyLine) (n int) {
	for _, l := range lines {
		n += l.N
	}
	return n
}

// TallyChanged is how many have another outcome than before.
func TallyChanged(lines []TallyLine) (n int) {
	for _, l := range lines {
		if l.Before != l.After {
			n += l.N
		}
	}
	return n
}

// Counts is how many readings have each outcome, before and after.
func (t Tally) Counts() (before, after map[Outcome]int) {
	before, after = map[Outcome]int{}, map[Outcome]int{}
	for _, l := range t.Lines {
		before[l.Before] += l.N
		after[l.After] += l.N
	}
	return before, after
}
