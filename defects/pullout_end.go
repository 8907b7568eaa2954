package defects

import (
	"fmt"
	"slices"
	"strings"
)

// PullOutEnd is how a pull-out test ended, the load's other half.
type PullOutEnd string

// The ends (common practice, no source for the words). The first three are
// failures of the wall or of the hold in it, which the test is for.
const (
	EndPulledOut    PullOutEnd = "pull-out"       // the anchor came out of its hole
	EndCone         PullOutEnd = "cone"           // with a cone of the wall
	EndWallBroke    PullOutEnd = "wall broke"     // a unit or joint broke
	EndAnchorBroke  PullOutEnd = "anchor broke"   // the anchor tore: nothing of the wall
	EndNotToFailure PullOutEnd = "not to failure" // stopped, or the tester slipped
)

// PullOutEnds lists them in the order shown to people.
func PullOutEnds() []PullOutEnd {
	return []PullOutEnd{EndPulledOut, EndCone, EndWallBroke, EndAnchorBroke, EndNotToFailure}
}

// OfTheWall reports an end that shows what the wall holds.
func (e PullOutEnd) OfTheWall() bool {
	return e == EndPulledOut || e == EndCone || e == EndWallBroke
}

// ReasonFailureMode is the reason of a set with a test that ended in another way
// than the wall's, or in one that is not understood.
const ReasonFailureMode = "failure_mode"

// voidByEnd says why ends as noted with the readings void a set, "" when they do
// not. Nothing noted ("") voids nothing. A load that says nothing of the wall is
// not left out by itself: without it the mean of the lowest could only rise, so a
// person withdraws it, with the reason, and tests another.
func voidByEnd(ends []string) string {
	var wrong []string
	for i, end := range ends {
		word := PullOutEnd(strings.ToLower(strings.TrimSpace(end)))
		switch {
		case word == "" || word.OfTheWall():
		case slices.Contains(PullOutEnds(), word):
			wrong = append(wrong, fmt.Sprintf("test %d ended with %q, which says nothing of what the wall holds", i+1, word))
		default:
			wrong = append(wrong, fmt.Sprintf("how test %d ended, %q, is not understood; write %s", i+1, clip(end, 40), endWords()))
		}
	}
	if len(wrong) == 0 {
		return ""
	}
	return strings.Join(wrong, "; ") + "; withdraw it with the reason and test another"
}

func endWords() string {
	var words []string
	for _, e := range PullOutEnds() {
		words = append(words, string(e))
	}
	last := len(words) - 1
	return strings.Join(words[:last], ", ") + " or " + words[last]
}
