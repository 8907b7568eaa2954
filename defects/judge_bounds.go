package defects

import "strings"

// limitBounds is the limit as it applies to one reading.
type limitBounds struct {
	lower, upper       Decimal
	hasLower, hasUpper bool
}

func between(lower, upper *Decimal) limitBounds {
	var b limitBounds
	if lower != nil {
		b.lower, b.hasLower = *lower, true
	}
	if upper != nil {
		b.upper, b.hasUpper = *upper, true
	}
	return b
}

// aroundFigure makes limits of one figure: above only, or on both sides of a centre.
func aroundFigure(figure, centre Decimal, bothWays bool) limitBounds {
	b := limitBounds{upper: centre.Add(figure), hasUpper: true}
	if bothWays {
		b.lower, b.hasLower = centre.Sub(figure), true
	}
	return b
}

// boundsFor works the limit out for a reading, or answers the reason why it
// cannot be.
func (l *Limit) boundsFor(in *Input) (limitBounds, string) {
	switch l.Kind {
	case FixedLimit:
		return between(l.Lower, l.Upper), ""
	case NominalLimit, LargerOfLimit:
		return l.aroundNominal(in)
	case PerNominalLimit, InverseNominalLimit:
		return l.byNominal(in)
	case RisingLimit:
		return l.risingBound(in)
	case DewPointLimit:
		return l.dewBound(in)
	case DensityLimit:
		if in.Area == nil || in.Area.Sign() <= 0 {
			return limitBounds{}, ReasonAreaMissing
		}
		whole := mulDivCeil(l.PerArea.nano, in.Area.nano, nanosPerUnit*nanosPerUnit)
		return limitBounds{lower: DecimalOf(min(whole, maxWhole)), hasLower: true}, ""
	}
	if in.BaseLength == nil {
		return limitBounds{}, ReasonBaseLengthMissing
	}
	if in.BaseLength.Sign() <= 0 {
		return limitBounds{}, ReasonBadBaseLength
	}
	figure, ok := l.figureAt(*in.BaseLength)
	if !ok {
		return limitBounds{}, ReasonBaseLengthOutside
	}
	return aroundFigure(figure, Decimal{}, l.BothWays), ""
}

func (l *Limit) aroundNominal(in *Input) (limitBounds, string) {
	if in.Nominal == nil {
		return limitBounds{}, ReasonNominalMissing
	}
	if l.Kind == LargerOfLimit {
		share := Decimal{nano: mulDivFloor(in.Nominal.Abs().nano, l.Percent.nano, 100*nanosPerUnit)}
		return aroundFigure(maxDecimal(*l.Figure, share), *in.Nominal, true), ""
	}
	b := between(l.Lower, l.Upper)
	b.lower, b.upper = in.Nominal.Add(b.lower), in.Nominal.Add(b.upper)
	return b, ""
}

// byNominal makes a lower limit of the nominal value.
func (l *Limit) byNominal(in *Input) (limitBounds, string) {
	switch {
	case in.Nominal == nil:
		return limitBounds{}, ReasonNominalMissing
	case in.Nominal.Sign() <= 0:
		return limitBounds{}, ReasonBadNominal
	case l.Kind == PerNominalLimit:
		return limitBounds{lower: l.Figure.Mul(*in.Nominal), hasLower: true}, ""
	}
	share := Decimal{nano: mulDivCeil(l.Figure.nano, nanosPerUnit, in.Nominal.nano)}
	return limitBounds{lower: maxDecimal(*l.Lower, share), hasLower: true}, ""
}

// figureAt is the figure for a base length; false when the limit gives none.
func (l *Limit) figureAt(base Decimal) (Decimal, bool) {
	switch l.Kind {
	case SteppedLimit:
		for _, s := range l.Steps {
			if s.UpTo == nil || !s.UpTo.Less(base) {
				return deref(s.Figure)
			}
		}
	case ListedLimit:
		for _, s := range l.Steps {
			if s.UpTo.Cmp(base) == 0 {
				return deref(s.Figure)
			}
		}
	case InterpolatedLimit:
		return l.interpolate(base)
	case ProRataLimit:
		if l.PerLength.Less(base) {
			return deref(l.Beyond)
		}
		return Decimal{nano: mulDivFloor(l.Figure.nano, base.nano, l.PerLength.nano)}, true
	}
	return Decimal{}, false
}

// interpolate draws a straight line between the columns on either side. Cutting
// at the ninth place before rounding half up cannot change the whole number.
func (l *Limit) interpolate(base Decimal) (Decimal, bool) {
	first, last := l.Steps[0], l.Steps[len(l.Steps)-1]
	if base.Less(*first.UpTo) {
		return Decimal{}, false
	}
	if !base.Less(*last.UpTo) {
		return *last.Figure, true
	}
	for i := 1; i < len(l.Steps); i++ {
		a, b := l.Steps[i-1], l.Steps[i]
		if !base.Less(*b.UpTo) {
			continue
		}
		nano := a.Figure.nano + mulDivFloor(b.Figure.nano-a.Figure.nano, base.nano-a.UpTo.nano, b.UpTo.nano-a.UpTo.nano)
		if l.Whole {
			nano = (nano + nanosPerUnit/2) / nanosPerUnit * nanosPerUnit
		}
		return Decimal{nano: nano}, true
	}
	return Decimal{}, false
}

// lengthsText says over which base lengths the limit gives a figure.
func (l *Limit) lengthsText() string {
	const head = "the limit gives no figure for this base length; measure over "
	switch l.Kind {
	case ListedLimit:
		lengths := make([]string, len(l.Steps))
		for i, s := range l.Steps {
			lengths[i] = s.UpTo.String()
		}
		return head + strings.Join(lengths, " or ") + " m"
	case InterpolatedLimit:
		return head + l.Steps[0].UpTo.String() + " m or more"
	case ProRataLimit:
		return head + "at most " + l.PerLength.String() + " m"
	}
	var spans []string
	from := "0"
	for _, s := range l.Steps {
		to := "any length"
		if s.UpTo != nil {
			to = s.UpTo.String() + " m"
		}
		if s.Figure != nil {
			spans = append(spans, "more than "+from+" m up to "+to)
		}
		if s.UpTo != nil {
			from = s.UpTo.String()
		}
	}
	return head + strings.Join(spans, ", or ")
}

// excepts reports that the value's failure plane is accepted instead of it.
func (l *Limit) excepts(plane string) bool {
	return l.ExceptPlane != "" && strings.EqualFold(strings.TrimSpace(plane), l.ExceptPlane)
}

func deref(d *Decimal) (Decimal, bool) {
	if d == nil {
		return Decimal{}, false
	}
	return *d, true
}

func maxDecimal(a, b Decimal) Decimal {
	if a.Less(b) {
		return b
	}
	return a
}
