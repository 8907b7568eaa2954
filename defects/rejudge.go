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

// Tally counts readings by their outcome before and after.
type Tally struct {
	Lines []TallyLine
	Snags []int // snags that rest on readings whose outcome changed, the first hundred
}

// TallyLine is how many readings went from one outcome to another.
type TallyLine struct {
	Before, After Outcome
	N             int
}

// Add counts one reading.
func (t *Tally) Add(before, after Outcome, snag int) {
	if i := slices.IndexFunc(t.Lines, func(l TallyLine) bool { return l.Before == before && l.After == after }); i >= 0 {
		t.Lines[i].N++
	} else {
		t.Lines = append(t.Lines, TallyLine{before, after, 1})
		slices.SortFunc(t.Lines, func(a, b TallyLine) int {
			return cmp.Or(cmp.Compare(a.Before, b.Before), cmp.Compare(a.After, b.After))
		})
	}
	if snag != 0 && before != after && len(t.Snags) < maxTallySnags && !slices.Contains(t.Snags, snag) {
		t.Snags = append(t.Snags, snag)
	}
}

// Total is how many readings were counted.
func (t Tally) Total() int { return t.count(func(TallyLine) bool { return true }) }

// Changed is how many have another outcome than before.
func (t Tally) Changed() int { return t.count(func(l TallyLine) bool { return l.Before != l.After }) }

func (t Tally) count(which func(TallyLine) bool) (n int) {
	for _, l := range t.Lines {
		if which(l) {
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
