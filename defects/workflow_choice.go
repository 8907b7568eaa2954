package defects

import (
	"cmp"
	"strings"
)

// StepChoice tells whether somebody may take a step now and, when not, why.
type StepChoice struct {
	Step  Step
	May   bool
	Parts []string // the parts open to the person, for a step that has parts
	Why   string   // who may, or what stands in the way; "" when May
	Needs []string // what must be present
}

// StepsFor answers for each of Steps whether a person may take it with s now.
// It looks at role, state and the separation of duties; what the step brings is
// judged by Apply.
func StepsFor(s Snag, p Person) []StepChoice {
	rules := StepRules()
	choices := make([]StepChoice, 0, len(Steps()))
	for _, step := range Steps() {
		choices = append(choices, choiceOf(s, p, step, rules))
	}
	return choices
}

func choiceOf(s Snag, p Person, step Step, rules []StepRule) StepChoice {
	c := StepChoice{Step: step}
	var role, other string // the first refusals for the role, and for anything else
	var who []string
	for _, r := range rules {
		if r.Step != step || step == StepClose && (r.Part == PartSecond) != (s.FirstSigned.ID != "") {
			continue
		}
		err := openPart(r, s, p)
		switch {
		case err == nil:
			c.May = true
			c.Needs = append(c.Needs, r.Needs...)
			if r.Part != "" {
				c.Parts = append(c.Parts, r.Part)
			}
		case !r.names(s, p):
			who = append(who, r.words()+": "+r.who())
			role = cmp.Or(role, err.Error())
		default:
			other = cmp.Or(other, err.Error())
		}
	}
	if !c.May {
		if len(who) > 1 {
			role = "as " + string(p.Role) + " you may do none of these; " + strings.Join(who, "; ")
		}
		c.Why = cmp.Or(other, role)
	}
	return c
}

// openPart is permits with what the snag alone tells about the part: nothing
// can be refused that was not asked, nor asked twice.
func openPart(r StepRule, s Snag, p Person) error {
	if err := r.permits(s, p); err != nil {
		return err
	}
	if r.Step == StepDefer && s.Severity == Critical {
		return errCriticalDeferred(s)
	}
	return askedOnce(r, s)
}

func askedOnce(r StepRule, s Snag) error {
	switch {
	case r.Part == PartAsk && s.Concession != nil:
		return Refuse(Conflict, "concession_asked", "a concession on "+s.Ref()+" was asked for and awaits its answer")
	case r.Part == PartRefuse && s.Concession == nil:
		return Refuse(Conflict, "concession_not_asked", "nobody has asked for a concession on "+s.Ref())
	}
	return nil
}
