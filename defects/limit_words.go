package defects

import (
	"fmt"
	"strings"
)

// Words says a limit in plain English, with the unit of its quantity and the
// readings it is for.
func (l Limit) Words(unit string) string {
	text := l.FigureWords(unit)
	if when := l.WhenWords(); when != "" {
		text += " (" + when + ")"
	}
	return text
}

// WhenWords says for which readings a limit is; "" means any.
func (l Limit) WhenWords() string {
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
	return strings.Join(when, ", ")
}

// FigureWords says what a limit asks for, without the conditions it holds under.
func (l Limit) FigureWords(unit string) string {
	text := limitFigures(l, unit)
	if l.ExceptPlane != "" {
		text += "; or any value when the failure plane is " + l.ExceptPlane
	}
	if l.Warning {
		text += "; a warning, decides no verdict"
	}
	return text
}

func limitFigures(l Limit, unit string) string {
	switch l.Kind {
	case FixedLimit:
		return boundsText(l.Lower, l.Upper, unit)
	case SteppedLimit, ListedLimit, InterpolatedLimit:
		return tableWords(l, unit)
	case ProRataLimit:
		text := fmt.Sprintf("%s in %s m, in proportion below", figureText(l.Figure, l.BothWays, unit), l.PerLength)
		if l.Beyond != nil {
			text += ", " + figureText(l.Beyond, l.BothWays, unit) + " above"
		}
		return text
	case NominalLimit:
		return "departure from the nominal value " + boundsText(l.Lower, l.Upper, unit)
	case LargerOfLimit:
		return fmt.Sprintf("within the larger of %s %s and %s %% of the nominal value", l.Figure, unit, l.Percent)
	case PerNominalLimit:
		return fmt.Sprintf("at least %s %s for each unit of the nominal value", l.Figure, unit)
	case InverseNominalLimit:
		return fmt.Sprintf("at least the larger of %s %s and %s divided by the nominal value", l.Lower, unit, l.Figure)
	case RisingLimit:
		text := fmt.Sprintf("at least %s %s, and rising when below %s %s", l.Lower, unit, l.RisingBelow, unit)
		if l.Upper != nil {
			text += fmt.Sprintf(", at most %s %s", l.Upper, unit)
		}
		return text
	case DewPointLimit:
		return fmt.Sprintf("at least %s K above the dew point of the air", l.Figure)
	case DensityLimit:
		return fmt.Sprintf("at least %s pieces per m², rounded up on each board", l.PerArea)
	case MeanOfEightLimit:
		return fmt.Sprintf("each within %s %s of the mean of any eight successive ones", l.Figure, unit)
	case SetMinimumLimit:
		return fmt.Sprintf("each of a set at least %s %s, their mean at least %s %s", l.Lower, unit, l.MeanLower, unit)
	case PullOutLimit:
		return pullOutWords(l.PullOut)
	}
	return string(l.Kind)
}

// StepWords lists characteristic values as they were written.
func StepWords(steps []Decimal) string {
	words := make([]string, len(steps))
	for i, s := range steps {
		words[i] = s.String()
	}
	return strings.Join(words, " ")
}

func pullOutWords(p *PullOutRule) string {
	text := fmt.Sprintf("N_Rk = %s × mean of the %d lowest of at least %d tests", p.Factor, p.Lowest, p.MinTests)
	if p.Cap != nil {
		text += ", at most " + p.Cap.String() + " kN"
	}
	if len(p.Steps) > 0 {
		text += ", rounded down to one of " + StepWords(p.Steps) + " kN"
	}
	text += ", partial factor " + p.Gamma.String()
	if p.Required != nil {
		text += "; required " + p.Required.String() + " kN"
	}
	return text
}

func boundsText(lower, upper *Decimal, unit string) string {
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

func figureText(figure *Decimal, bothWays bool, unit string) string {
	if bothWays {
		return "±" + figure.String() + " " + unit
	}
	return "at most " + figure.String() + " " + unit
}

// tableWords lists the columns of a table by base length.
func tableWords(l Limit, unit string) string {
	var cols []string
	for _, s := range l.Steps {
		figure := "no figure"
		if s.Figure != nil {
			figure = figureText(s.Figure, l.BothWays, unit)
		}
		switch {
		case s.UpTo == nil:
			cols = append(cols, figure+" beyond")
		case l.Kind == SteppedLimit:
			cols = append(cols, figure+" up to "+s.UpTo.String()+" m")
		default:
			cols = append(cols, figure+" at "+s.UpTo.String()+" m")
		}
	}
	text := strings.Join(cols, ", ")
	if l.Kind == InterpolatedLimit {
		text += ", a straight line between"
		if l.Whole {
			text += ", rounded half up to whole " + unit
		}
	}
	return text
}
