package register

import (
	"fmt"
	"strings"
	"unicode"

	"storeyrod/defects"
)

// observed reads the value of a reading, and the observations it is the mean of
// if it was entered so. Both may be given, as in a table that was exported, when
// they agree.
func observed(in ReadingInput) (value defects.Decimal, list []defects.Decimal, err error) {
	if list, err = observationsOf(in.Observations); err != nil {
		return value, nil, err
	}
	if len(list) == 0 {
		if value, err = defects.ParseDecimal(in.Value); err != nil {
			err = inField(err, "value")
		}
		return value, nil, err
	}
	mean := defects.MeanOf(list)
	if strings.TrimSpace(in.Value) == "" {
		return mean, list, nil
	}
	if value, err = defects.ParseDecimal(in.Value); err != nil {
		return value, nil, inField(err, "value")
	}
	if value.Cmp(mean) != 0 {
		return value, nil, defects.RefuseField(defects.Invalid, "value", "value_twice",
			fmt.Sprintf("the mean of the observations is %s, not %s; leave the value empty to take their mean", mean, value))
	}
	return mean, list, nil
}

// observationsOf reads values with spaces or semicolons between them.
func observationsOf(text string) (list []defects.Decimal, err error) {
	for word := range strings.FieldsFuncSeq(text, func(r rune) bool { return r == ';' || unicode.IsSpace(r) }) {
		d, err := defects.ParseDecimal(word)
		if err != nil {
			return nil, inField(err, "observations")
		}
		if list = append(list, d); len(list) > defects.MaxObservations {
			return nil, defects.RefuseField(defects.TooLarge, "observations", "too_many",
				fmt.Sprintf("at most %d observations of one reading", defects.MaxObservations))
		}
	}
	if len(list) > 0 && len(list) < defects.MinObservations {
		return nil, defects.RefuseField(defects.Invalid, "observations", "too_few",
			"a mean needs at least two observations; enter a single one as the value")
	}
	return list, nil
}
