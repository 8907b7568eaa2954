package cli

import (
	"fmt"
	"io"
	"os"

	"github.com/spf13/cobra"

	"storeyrod/defects"
)

const defaultSchedule = "ewi-common-practice"

func judgeCommand() *cobra.Command {
	var schedules []string
	var rule, guard, in string
	cmd := &cobra.Command{
		Use:   "judge",
		Short: "Judge readings against tolerance schedules: CSV in, CSV out",
		Long: `Reads CSV with the columns quantity, value and unit, and as far as a limit needs
them expanded_uncertainty (U, k = 2), base_length_m, zone, stage, courses,
failure_plane, mode, nominal, area_m2, trend (rising, falling, steady),
air_temperature_c, relative_humidity. All columns are kept as they are; added are
limit_lower, limit_upper, verdict, p_conform, reason, schedule, edition, clause, basis.
A column of the input that has one of these names is written as input_verdict and so on.
Several schedules give several rows a reading.

verdict is pass, conditional-pass, conditional-fail, fail or none with a reason.
A fail is an answer; the exit code is 1 only when rows could not be understood
(a wrong unit, a number that is none). Such rows are written with verdict none.

Rules: "simple" takes the limit as it stands, "guarded" moves it inwards by the
guard band r × U, "four-way" answers conditionally within the guard band.`,
		Example: "  storeyrod judge --schedule din-18202-t3-line7 --in readings.csv > judged.csv\n" +
			"  storeyrod judge --schedule nhbc-2019-fair-faced --schedule ./ours.json --rule guarded < readings.csv",
		Args: none,
		RunE: func(cmd *cobra.Command, _ []string) error {
			j, err := newJudge(schedules, rule, guard)
			if err != nil {
				return err
			}
			return judgeFile(cmd, j, in)
		},
	}
	f := cmd.Flags()
	f.StringArrayVar(&schedules, "schedule", []string{defaultSchedule}, "built-in schedule, or a schedule file; may be given several times")
	f.StringVar(&rule, "rule", string(defects.FourWay), "decision rule: simple, guarded or four-way")
	f.StringVar(&guard, "guard", "1", "guard band as a multiple r of U")
	f.StringVar(&in, "in", "-", "file to read; - is standard input")
	return cmd
}

func newJudge(schedules []string, rule, guard string) (*judge, error) {
	j := &judge{rule: defects.Rule(rule), units: map[string]defects.Quantity{}}
	for _, q := range defects.Quantities() {
		j.units[q.Name] = q
	}
	if !j.rule.Known() {
		return nil, usagef("--rule is simple, guarded or four-way, not %q", rule)
	}
	var err error
	if j.guard, err = flagDecimal("guard", guard); err != nil {
		return nil, err
	}
	if j.guard.Sign() <= 0 {
		return nil, usagef("--guard must be above 0; --rule simple uses no guard band")
	}
	for _, ref := range schedules {
		l, err := loadLimits(ref)
		if err != nil {
			return nil, err
		}
		j.limits = append(j.limits, l)
	}
	return j, nil
}

func judgeFile(cmd *cobra.Command, j *judge, in string) error {
	var src io.Reader = cmd.InOrStdin()
	if in != "-" {
		f, err := os.Open(in)
		if err != nil {
			return fmt.Errorf("%s: %w", in, fileError(err))
		}
		defer f.Close()
		src = f
	}
	j.faults = newFaults(cmd.ErrOrStderr(), 10)
	if err := j.run(cmd.Context(), src, cmd.OutOrStdout()); err != nil {
		return err
	}
	if j.faults.n > 0 {
		return &refusedError{fmt.Sprintf("%d of %d rows could not be judged as they are", j.faults.n, j.rows)}
	}
	return nil
}

// faults tells the first few faults of a long run and counts the rest.
type faults struct {
	w    io.Writer
	most int
	n    int
}

func newFaults(w io.Writer, most int) *faults { return &faults{w: w, most: most} }

func (f *faults) add(where, what string) {
	if f.n++; f.n <= f.most {
		fmt.Fprintf(f.w, "storeyrod: %s: %s\n", where, what)
	} else if f.n == f.most+1 {
		fmt.Fprintln(f.w, "storeyrod: further faults are counted only")
	}
}
