package cli

import (
	"fmt"
	"strings"

	"storeyrod/defects"
)

// limitWords says a limit in plain English.
func limitWords(l defects.Limit, unit string) string {
	text := limitFigures(l, unit)
	var when []string
	if l.Zone != "" {
		when = append(when, string(l.Zone)+" zone")
	}
	if l.Stage != "" {
		when = append(when, "stage "+l.Stage)
	}
	if l.Courses != 0 {
		when = append(when, fmt.Sprintf("over %d courses", l.Courses))
	}
	if l.Mode != "" {
		when = append(when, "meter mode "+l.Mode)
	}
	if len(when) > 0 {
		text += " (" + strings.Join(when, ", ") + ")"
	}
	if l.ExceptPlane != "" {
		text += "; or any value when the failure plane is " + l.ExceptPlane
	}
	return text
}

func limitFigures(l defects.Limit, unit string) string {
	switch l.Kind {
	case defects.FixedLimit:
		return span(l.Lower, l.Upper, unit)
	case defects.SteppedLimit, defects.ListedLimit, defects.InterpolatedLimit:
		return tableWords(l, unit)
	case defects.ProRataLimit:
		text := fmt.Sprintf("%s in %s m, in proportion below", within(l.Figure, l.BothWays, unit), l.PerLength)
		if l.Beyond != nil {
			text += ", " + within(l.Beyond, l.BothWays, unit) + " above"
		}
		return text
	case defects.NominalLimit:
		return "departure from the nominal value " + span(l.Lower, l.Upper, unit)
	case defects.LargerOfLimit:
		return fmt.Sprintf("within the larger of %s %s and %s %% of the nominal value", l.Figure, unit, l.Percent)
	case defects.DensityLimit:
		return fmt.Sprintf("at least %s pieces per m², rounded up on each board", l.PerArea)
	case defects.MeanOfEightLimit:
		return fmt.Sprintf("each within %s %s of the mean of any eight successive ones", l.Figure, unit)
	case defects.SetMinimumLimit:
		return fmt.Sprintf("each of a set at least %s %s, their mean at least %s %s", l.Lower, unit, l.MeanLower, unit)
	case defects.PullOutLimit:
		return pullOutWords(l.PullOut)
	}
	return string(l.Kind)
}

func pullOutWords(p *defects.PullOutRule) string {
	text := fmt.Sprintf("N_Rk = %s × mean of the %d lowest of at least %d tests", p.Factor, p.Lowest, p.MinTests)
	if p.Cap != nil {
		text += ", at most " + p.Cap.String() + " kN"
	}
	text += ", partial factor " + p.Gamma.String()
	if p.Required != nil {
		text += "; required " + p.Required.String() + " kN"
	}
	return text
}

func span(lower, upper *defects.Decimal, unit string) string {
	switch {
	case lower != nil && upper != nil:
		return fmt.Sprintf("%s to %s %s", lower, upper, unit)
	case lower != nil:
		return fmt.Sprintf("at least %s %s", lower, unit)
	case upper != nil:
		return fmt.Sprintf("at most %s %s", upper, unit)
	}
	return "no figure"
}

func within(figure *defects.Decimal, bothWays bool, unit string) string {
	if bothWays {
		return "±" + figure.String() + " " + unit
	}
	return "at most " + figure.String() + " " + unit
}

// tableWords lists the columns of a table by base length.
func tableWords(l defects.Limit, unit string) string {
	var cols []string
	for _, s := range l.Steps {
		figure := "no figure"
		if s.Figure != nil {
			figure = within(s.Figure, l.BothWays, unit)
		}
		switch {
		case s.UpTo == nil:
			cols = append(cols, figure+" beyond")
		case l.Kind == defects.SteppedLimit:
			cols = append(cols, figure+" up to "+s.UpTo.String()+" m")
		default:
			cols = append(cols, figure+" at "+s.UpTo.String()+" m")
		}
	}
	text := strings.Join(cols, ", ")
	if l.Kind == defects.InterpolatedLimit {
		text += ", a straight line between"
		if l.Whole {
			text += ", rounded half up to whole " + unit
		}
	}
	return text
}
