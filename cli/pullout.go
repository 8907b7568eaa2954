package cli

import (
	"encoding/json"
	"fmt"

	"github.com/spf13/cobra"

	"storeyrod/defects"
)

const pulloutCaution = "caution: this is arithmetic only; a competent structural designer decides what may be fixed, " +
	"with how many anchors, and whether the wall was tested where it is weakest"

// pulloutAnswer is the result of a pull-out set, loads in kN as exact figures.
type pulloutAnswer struct {
	N       int             `json:"n"`
	N1      *json.Number    `json:"n1_kN"`
	NRk     *json.Number    `json:"nrk_kN"`
	NRd     *json.Number    `json:"nrd_kN"`
	Verdict defects.Outcome `json:"verdict"`
	Reason  *string         `json:"reason"`
}

func pulloutCommand() *cobra.Command {
	var required, factor, limit, gamma string
	var steps []string
	var least int
	cmd := &cobra.Command{
		Use:   "pullout VALUE…",
		Short: "Characteristic and design pull-out resistance of a set of anchor tests",
		Long: `Takes loads at failure in kN from site tests of one kind of anchor in one kind of
wall. N1 is the mean of the five lowest; N_Rk = factor × N1, at most the cap;
N_Rd = N_Rk / gamma. Fewer tests than --min-tests give no figure. The defaults are
those of ETAG 014 Annex D, from memory. N_Rk is compared unrounded.

A verdict of "fail" is an answer: the exit code stays 0.

` + pulloutCaution + ".",
		Example: "  storeyrod pullout --required 0.5 1.1 1.3 0.9 1.2 1.4 1.0 1.25 1.3 1.15 1.2 1.1 1.35 1.4 1.2 1.3",
		Args:    atLeastOne("load in kN"),
		RunE: func(cmd *cobra.Command, args []string) error {
			rule, err := pulloutRule(required, factor, limit, gamma, least, steps)
			if err != nil {
				return err
			}
			return runPullout(cmd, args, rule)
		},
	}
	f := cmd.Flags()
	f.StringVar(&required, "required", "", "characteristic resistance the designer asks for, kN")
	f.StringVar(&factor, "factor", "0.6", "factor on the mean of the five lowest")
	f.StringVar(&limit, "cap", "1.5", `most that N_Rk may be, kN; "none" for no cap`)
	f.StringVar(&gamma, "gamma", "2.0", "partial factor of the material")
	f.StringSliceVar(&steps, "steps", nil, "characteristic values that are allowed, kN; N_Rk is rounded down to one of them")
	f.IntVar(&least, "min-tests", 15, "fewest tests that give a figure")
	return cmd
}

func pulloutRule(required, factor, limit, gamma string, least int, steps []string) (defects.PullOutRule, error) {
	rule := defects.DefaultPullOutRule()
	rule.MinTests = least
	var err error
	if rule.Factor, err = flagDecimal("factor", factor); err != nil {
		return rule, err
	}
	if rule.Gamma, err = flagDecimal("gamma", gamma); err != nil {
		return rule, err
	}
	rule.Cap = nil
	if limit != "none" {
		most, err := flagDecimal("cap", limit)
		if err != nil {
			return rule, err
		}
		rule.Cap = &most
	}
	for _, text := range steps {
		step, err := flagDecimal("steps", text)
		if err != nil {
			return rule, err
		}
		rule.Steps = append(rule.Steps, step)
	}
	if required != "" {
		want, err := flagDecimal("required", required)
		if err != nil {
			return rule, err
		}
		rule.Required = &want
	}
	if err := rule.Check(); err != nil {
		return rule, usagef("%s", describe(err))
	}
	return rule, nil
}

// flagDecimal reads a flag's exact number.
func flagDecimal(name, text string) (defects.Decimal, error) {
	d, err := defects.ParseDecimal(text)
	if err != nil {
		return d, usagef("--%s: %s", name, describe(err))
	}
	return d, nil
}

func runPullout(cmd *cobra.Command, args []string, rule defects.PullOutRule) error {
	loads := make([]defects.Decimal, len(args))
	for i, text := range args {
		var err error
		if loads[i], err = defects.ParseDecimal(text); err != nil {
			return usagef("load %d: %s", i+1, describe(err))
		}
	}
	res := defects.Characteristic(loads, rule)
	answer := pulloutAnswer{N: res.N, N1: figure(res.N1), NRk: figure(res.NRk), NRd: figure(res.NRd), Verdict: res.Verdict}
	if res.Reason != "" {
		why := reasonWords(res.Reason, res.ReasonText)
		answer.Reason = &why
	}
	if err := json.NewEncoder(cmd.OutOrStdout()).Encode(answer); err != nil {
		return fmt.Errorf("write: %w", err)
	}
	fmt.Fprintln(cmd.ErrOrStderr(), pulloutCaution)
	if res.Reason == "bad_value" {
		return &refusedError{res.ReasonText + " [bad_value]"}
	}
	return nil
}

// figure writes an exact number, digit by digit.
func figure(d *defects.Decimal) *json.Number {
	if d == nil {
		return nil
	}
	n := json.Number(d.String())
	return &n
}

// reasonWords is a reason as every verb prints it: the stable word, then what
// would help.
func reasonWords(reason, text string) string {
	if reason == "" || text == "" {
		return reason
	}
	return reason + ": " + text
}
