package defects

import (
	"cmp"
	"slices"
)

// Rank is where a schedule stands in the order of precedence. Where several in
// force have a limit for a reading, the one that ranks highest governs.
type Rank string

// The ranks, the highest first (proposal of the trade reference, no standard).
const (
	LawRank      Rank = "law"      // law and local code
	ContractRank Rank = "contract" // contract specification and drawings
	ProjectRank  Rank = "project"  // agreed on the project, outside the contract documents
	ApprovalRank Rank = "approval" // the system's technical approval, the maker's data sheet
	StandardRank Rank = "standard" // published standard or warranty manual
	PracticeRank Rank = "common-practice"
)

// Ranks lists them, the highest first.
func Ranks() []Rank {
	return []Rank{LawRank, ContractRank, ProjectRank, ApprovalRank, StandardRank, PracticeRank}
}

// Words says a rank in plain English.
func (r Rank) Words() string {
	switch r {
	case LawRank:
		return "law or local code"
	case ContractRank:
		return "contract specification"
	case ProjectRank:
		return "agreed on the project"
	case ApprovalRank:
		return "technical approval or maker's data sheet"
	case StandardRank:
		return "published standard"
	case PracticeRank:
		return "common practice"
	}
	return string(r)
}

// RankOf is the schedule's rank; one that states none ranks by its basis.
func RankOf(s Schedule) Rank {
	switch {
	case s.Rank != "":
		return s.Rank
	case s.Basis == Project:
		return ProjectRank
	case s.Basis == CommonPractice:
		return PracticeRank
	}
	return StandardRank
}

// ByPrecedence sorts schedules by rank, the highest first. Of equal rank, the
// one listed first goes first.
func ByPrecedence(list []Schedule) []Schedule {
	list = slices.Clone(list)
	slices.SortStableFunc(list, func(a, b Schedule) int { return cmpRank(RankOf(a), RankOf(b)) })
	return list
}

// LimitsByPrecedence is ByPrecedence for compiled schedules.
func LimitsByPrecedence(list []*Limits) []*Limits {
	list = slices.Clone(list)
	slices.SortStableFunc(list, func(a, b *Limits) int { return cmpRank(a.rank, b.rank) })
	return list
}

func cmpRank(a, b Rank) int {
	return cmp.Compare(slices.Index(Ranks(), a), slices.Index(Ranks(), b))
}

// PassedOver is a limit that another one went before: its schedule, what it
// would have answered, and by which figures.
type PassedOver struct {
	Schedule string // name@version
	Rank     Rank
	Outcome  Outcome
	Lower    *Decimal
	Upper    *Decimal
	Basis    Basis
}

// JudgeGoverning judges by the first of several schedules, the governing one
// first, that has a limit for a single reading of the quantity at its stage. The
// answers of the others that have one come in PassedOver. A limit on sets alone
// does not stand in the way of a later one on single values. When none has a
// limit, the answer is that it is judged as a set, else the first one's.
// Warnings of all of them count.
func JudgeGoverning(in Input, schedules []*Limits, rule Rule, r Decimal) Verdict {
	var (
		by, governs, warning = -1, false, ""
		answer, next         Judgement
		passed               []PassedOver
	)
	for i, l := range schedules {
		l.weigh(&next, &in, l.by[in.Quantity], rule, r)
		if l.warns {
			warning = joinWarnings(warning, l.warning(&in))
		}
		switch {
		case next.Reason == ReasonNoLimit, next.Reason == ReasonStageMissing, next.Reason == ReasonJudgedAsSet:
			if !governs && (by < 0 || (next.Reason == ReasonJudgedAsSet && answer.Reason != ReasonJudgedAsSet)) {
				by, answer = i, next
			}
		case !governs:
			by, answer, governs = i, next, true
		default:
			if passed == nil {
				passed = make([]PassedOver, 0, len(schedules)-i)
			}
			passed = append(passed, l.passedOver(&next))
		}
	}
	v := Verdict{Outcome: NoVerdict, Reason: ReasonNoLimit, ReasonText: reasonText(ReasonNoLimit), Rule: rule}
	if by >= 0 {
		v = schedules[by].spell(&answer, &in)
	}
	v.Warning, v.PassedOver = warning, passed
	return v
}

func (l *Limits) passedOver(j *Judgement) PassedOver {
	p := PassedOver{Schedule: l.schedule, Rank: l.rank, Outcome: j.Outcome}
	if j.limit != nil {
		p.Basis = j.limit.verdict.Basis
	}
	bounds := j.bounds
	p.Lower, p.Upper = bounds.lowerPointer(), bounds.upperPointer()
	return p
}

func joinWarnings(a, b string) string {
	if a == "" || a == b {
		return b
	}
	if b == "" {
		return a
	}
	return a + "; " + b
}
