package defects

import "strings"

// LimitWords says the limit of a verdict in its unit: "7 to 13 mm", "at most
// 8 mm", "at least 100 mm"; empty when the verdict has none.
func LimitWords(v Verdict, unit string) string {
	switch {
	case v.Lower != nil && v.Upper != nil:
		return v.Lower.String() + " to " + v.Upper.String() + " " + unit
	case v.Upper != nil:
		return "at most " + v.Upper.String() + " " + unit
	case v.Lower != nil:
		return "at least " + v.Lower.String() + " " + unit
	}
	return ""
}

// ReadingWords says a reading against its limit: "13.6 mm against 7 to 13 mm".
func ReadingWords(r Reading) string {
	text := r.Value.String() + " " + r.Unit
	if limit := LimitWords(r.Verdict, r.Unit); limit != "" {
		text += " against " + limit
	}
	return text
}

// RequirementWords says what a reading had to meet, with source and edition and
// how surely the source is known: "plumb at most 8 mm (TITLE, EDITION, CLAUSE;
// from memory)". It is empty without a limit.
func RequirementWords(r Reading) string {
	v := r.Verdict
	limit := LimitWords(v, r.Unit)
	if limit == "" {
		return ""
	}
	var source []string
	for _, part := range []string{v.Title, v.Edition, v.Clause, v.Line} {
		if part != "" {
			source = append(source, part)
		}
	}
	if len(source) == 0 && v.Schedule != "" {
		source = append(source, v.Schedule)
	}
	text := quantityWords(r.Quantity) + " " + limit
	inside := strings.Join(source, ", ")
	if known := basisWords(v.Basis); known != "" && known != v.Title {
		inside = strings.TrimPrefix(inside+"; "+known, "; ")
	}
	if inside == "" {
		return text
	}
	return text + " (" + inside + ")"
}

func basisWords(b Basis) string {
	switch b {
	case Secondary:
		return "quoted by another text"
	case Memory:
		return "from memory, unverified"
	case CommonPractice:
		return "common practice, no source"
	case Project:
		return "agreed for this project"
	}
	return ""
}

// FallsShort reports whether a reading lies below a lower limit above zero, so
// that a smaller value is the worse one: a mesh lap, a bed joint too thin.
func FallsShort(r Reading) bool {
	l := r.Verdict.Lower
	return l != nil && l.Sign() > 0 && r.Value.Less(*l)
}

// quantityWords prints a quantity's stable name as people read it:
// "joint_width_bed" becomes "joint width bed".
func quantityWords(quantity string) string { return strings.ReplaceAll(quantity, "_", " ") }

func quantitiesWords(quantities []string) []string {
	words := make([]string, len(quantities))
	for i, q := range quantities {
		words[i] = quantityWords(q)
	}
	return words
}
