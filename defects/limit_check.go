package defects

import (
	"fmt"
	"slices"
)

const (
	maxLimits    = 500
	maxLimitText = 2000
)

func checkScheduleHead(s Schedule) error {
	bad := func(field, why string) error { return RefuseField(Invalid, field, "bad_schedule", why) }
	switch {
	case !scheduleName(s.Name):
		return bad("name", "a schedule's name is 1 to 60 lower-case letters, digits and hyphens")
	case s.Version < 1:
		return bad("version", "a schedule's version counts from 1")
	case len(s.Limits) == 0:
		return bad("limits", "a schedule needs at least one limit")
	case len(s.Limits) > maxLimits:
		return bad("limits", fmt.Sprintf("at most %d limits", maxLimits))
	case len(s.Title)+len(s.Edition)+len(s.Notes) > 3*maxLimitText:
		return bad("title", "title, edition and notes are too long")
	case s.Rank != "" && !slices.Contains(Ranks(), s.Rank):
		return bad("rank", fmt.Sprintf("unknown rank %q: law, contract, project, approval, standard or common-practice", clip(string(s.Rank), 40)))
	case len(s.Agreed.By) > 200 || len(s.Agreed.On) > 10:
		return bad("agreed_by", "who agreed it, or the day, is too long")
	}
	return nil
}

func scheduleName(s string) bool {
	if s == "" || len(s) > 60 {
		return false
	}
	for _, c := range []byte(s) {
		if (c < 'a' || c > 'z') && (c < '0' || c > '9') && c != '-' {
			return false
		}
	}
	return true
}

// checkLimit says what is wrong with a limit, "" when nothing is.
func checkLimit(l Limit) string {
	q, ok := QuantityByName(l.Quantity)
	switch {
	case !ok:
		return fmt.Sprintf("unknown quantity %q", clip(l.Quantity, 40))
	case !slices.Contains(LimitKinds(), l.Kind):
		return fmt.Sprintf("unknown kind of limit %q", clip(string(l.Kind), 40))
	case !KnownZone(l.Zone):
		return fmt.Sprintf("unknown zone %q", clip(string(l.Zone), 40))
	case l.Courses < 0:
		return "the number of courses cannot be negative"
	case l.Warning && l.Kind.ForSet():
		return "a limit on a set cannot be a warning"
	case (l.Kind == RisingLimit || l.Kind == DewPointLimit) && q.Unit != "degC":
		return "a " + string(l.Kind) + " limit is for temperatures"
	case l.ExceptPlane != "" && q.Needs != NeedFailurePlane:
		return l.Quantity + " has no failure plane to except"
	}
	if why := checkSource(l); why != "" {
		return why
	}
	return checkFigures(l)
}

func checkSource(l Limit) string {
	switch {
	case l.Title == "":
		return "a limit needs its source: state a title, or \"common practice, no source\""
	case !slices.Contains([]Basis{Read, Secondary, Memory, CommonPractice, Project}, l.Basis):
		return "a limit needs its basis: read, secondary, memory, common-practice or project"
	case l.Basis != CommonPractice && l.Basis != Project && l.Edition == "":
		return "a published limit needs its edition"
	case len(l.Title)+len(l.Edition)+len(l.Clause)+len(l.Line)+len(l.Note)+len(l.From)+len(l.Reason) > maxLimitText:
		return "the source and note are too long"
	}
	return ""
}

func checkFigures(l Limit) string {
	switch l.Kind {
	case FixedLimit, NominalLimit:
		return checkPair(l.Lower, l.Upper)
	case PerNominalLimit, InverseNominalLimit, RisingLimit, DewPointLimit:
		return checkDerived(l)
	case SteppedLimit:
		return checkSteps(l, 1, true)
	case ListedLimit:
		return checkSteps(l, 1, false)
	case InterpolatedLimit:
		return checkSteps(l, 2, false)
	case ProRataLimit:
		if !positive(l.Figure) || !positive(l.PerLength) || (l.Beyond != nil && !positive(l.Beyond)) {
			return "a pro-rata limit needs a figure and a length above 0"
		}
	case LargerOfLimit:
		if !positive(l.Figure) || !positive(l.Percent) {
			return "a larger-of limit needs a figure and a percentage above 0"
		}
	case DensityLimit:
		if !positive(l.PerArea) {
			return "a density limit needs a count per square metre above 0"
		}
	case MeanOfEightLimit:
		if !positive(l.Figure) {
			return "a mean-of-eight limit needs a figure above 0"
		}
	case SetMinimumLimit:
		if l.Lower == nil || l.MeanLower == nil {
			return "a set minimum needs a single minimum and a mean minimum"
		}
	case PullOutLimit:
		if l.PullOut == nil {
			return "a pull-out limit needs its rule"
		}
		if err := l.PullOut.Check(); err != nil {
			return err.Error()
		}
	}
	return ""
}

// checkDerived is for limits whose figure follows from a fact of the reading.
func checkDerived(l Limit) string {
	switch {
	case l.Kind == RisingLimit:
		if l.Lower == nil || l.RisingBelow == nil || !l.Lower.Less(*l.RisingBelow) {
			return "a rising limit needs a lower figure and a higher one below which it must be rising"
		}
		if l.Upper != nil && l.Upper.Less(*l.RisingBelow) {
			return "the upper figure is below the one up to which it must be rising"
		}
	case l.Kind == DewPointLimit && l.Figure != nil && l.Figure.Sign() == 0: // the dew point itself
	case !positive(l.Figure):
		return "a " + string(l.Kind) + " limit needs a figure above 0"
	case l.Kind == InverseNominalLimit && l.Lower == nil:
		return "an inverse-nominal limit needs a lower figure as its floor"
	}
	return ""
}

func checkPair(lower, upper *Decimal) string {
	switch {
	case lower == nil && upper == nil:
		return "a limit needs a lower or an upper figure"
	case lower != nil && upper != nil && upper.Less(*lower):
		return "the lower figure is above the upper one"
	}
	return ""
}

// checkSteps asks for ascending lengths without a gap: only a last step may be
// open, and only where open is true may a step be without a figure.
func checkSteps(l Limit, least int, open bool) string {
	if len(l.Steps) < least {
		return fmt.Sprintf("a limit by base length needs at least %d columns", least)
	}
	figures := 0
	for i, s := range l.Steps {
		switch {
		case s.UpTo == nil && (!open || i != len(l.Steps)-1):
			return "a column has no base length"
		case s.UpTo != nil && s.UpTo.Sign() <= 0:
			return "a base length must be above 0 m"
		case i > 0 && s.UpTo != nil && !l.Steps[i-1].UpTo.Less(*s.UpTo):
			return "base lengths must ascend without repeating"
		case s.Figure == nil && !open:
			return "a column has no figure"
		case s.Figure != nil && s.Figure.Sign() < 0:
			return "a figure by base length cannot be negative"
		case l.Kind == InterpolatedLimit && i > 0 && s.Figure.Less(*l.Steps[i-1].Figure):
			return "figures to interpolate between must not fall with length"
		}
		if s.Figure != nil {
			figures++
		}
	}
	if figures == 0 {
		return "a limit by base length needs a figure"
	}
	return ""
}

func positive(d *Decimal) bool { return d != nil && d.Sign() > 0 }
