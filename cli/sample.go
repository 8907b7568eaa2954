package cli

import (
	"crypto/rand"
	"encoding/json"
	"fmt"
	"strconv"

	"github.com/spf13/cobra"

	"storeyrod/defects/statistics"
)

// sampleAnswer is a plan, the items drawn by it, and what they can miss.
type sampleAnswer struct {
	Lot     int         `json:"lot"`
	LotCode string      `json:"lot_code"`
	Code    string      `json:"code"`
	N       int         `json:"n"`
	Ac      int         `json:"ac"`
	Re      int         `json:"re"`
	All     bool        `json:"all"`
	Seed    string      `json:"seed"`
	Drawn   []int       `json:"drawn"`
	Risk    []int       `json:"risk"`
	Detect  []detection `json:"detect"`
}

type detection struct {
	Defective int     `json:"defective"`
	P         float64 `json:"p"`
}

type sampleFlags struct {
	lot                    int
	level, aql, inspection string
	zero                   bool
	seed                   string
	risk                   []int
}

func sampleCommand() *cobra.Command {
	var f sampleFlags
	cmd := &cobra.Command{
		Use:   "sample",
		Short: "Draw an audit sample that anybody can draw again",
		Long: `Takes the single sampling plan of ISO 2859-1 for a lot of items numbered from 1 and
draws the sample. "code" is the letter of the plan used after following the arrows
of the table, "lot_code" that of the lot's size; reject from "re" bad ones. An AQL
is no quality that is guaranteed: "detect" says with which probability the sample
shows at least one of so many bad items in the lot.

--accept-zero takes the sample size of the lot's own letter and accepts no bad item.

An item's rank is the SHA-256 of the seed, a line feed and its number; the items
with the smallest ranks are drawn. Fix the seed in writing before the audit. Without
--seed a random one is made and printed. --risk names items picked by a person; they
are listed apart and say nothing about the lot.`,
		Example: "  storeyrod sample --lot 64 --level II --aql 2.5 --seed 'May audit'\n" +
			"  for i in $(seq 64); do echo $(printf 'May audit\\n%s' $i | sha256sum) $i; done | sort | head -20",
		Args: none,
		RunE: func(cmd *cobra.Command, _ []string) error { return runSample(cmd, f) },
	}
	flags := cmd.Flags()
	flags.IntVar(&f.lot, "lot", 0, "number of items in the lot")
	flags.StringVar(&f.level, "level", "II", "general inspection level: I, II or III")
	flags.StringVar(&f.aql, "aql", "2.5", "acceptance quality limit, per cent")
	flags.StringVar(&f.inspection, "inspection", "normal", "normal, tightened or reduced")
	flags.BoolVar(&f.zero, "accept-zero", false, "accept no bad item, with the sample size of the lot's own letter")
	flags.StringVar(&f.seed, "seed", "", "text that fixes the draw")
	flags.IntSliceVar(&f.risk, "risk", nil, "items picked by a person, kept apart")
	return cmd
}

const maxSampleLot = 1_000_000

func runSample(cmd *cobra.Command, f sampleFlags) error {
	if f.lot < 1 || f.lot > maxSampleLot {
		return usagef("--lot: a lot has 1 to %d items", maxSampleLot)
	}
	plan, err := samplePlan(f)
	if err != nil {
		return usagef("%s", describe(err))
	}
	if !cmd.Flags().Changed("seed") {
		f.seed = rand.Text()
	}
	picks := make([]string, len(f.risk))
	for i, n := range f.risk {
		picks[i] = strconv.Itoa(n)
	}
	drawn, err := statistics.Draw(f.seed, statistics.Numbered(f.lot), plan.N, picks...)
	if err != nil {
		return usagef("%s", describe(err))
	}
	answer := sampleAnswer{
		Lot: f.lot, LotCode: plan.LotCode, Code: plan.Code, N: plan.N, Ac: plan.Ac, Re: plan.Re, All: plan.All, Seed: f.seed,
	}
	if answer.Drawn, err = itemNumbers(drawn.Sample); err != nil {
		return err
	}
	if answer.Risk, err = itemNumbers(drawn.Risk); err != nil {
		return err
	}
	if answer.Detect, err = detections(f.lot, plan.N); err != nil {
		return err
	}
	if err := json.NewEncoder(cmd.OutOrStdout()).Encode(answer); err != nil {
		return fmt.Errorf("write: %w", err)
	}
	return nil
}

func samplePlan(f sampleFlags) (statistics.Plan, error) {
	if f.zero {
		return statistics.ZeroPlan(f.lot, f.level)
	}
	return statistics.SinglePlan(f.lot, f.level, f.aql, statistics.Inspection(f.inspection))
}

// itemNumbers are the numbers in the order drawn.
func itemNumbers(items []statistics.Item) ([]int, error) {
	list := make([]int, len(items))
	for i, it := range items {
		n, err := strconv.Atoi(it.ID)
		if err != nil {
			return nil, fmt.Errorf("item %q: %w", it.ID, err)
		}
		list[i] = n
	}
	return list, nil
}

// detections are for one to ten bad items and on in steps, until nothing is missed.
func detections(lot, n int) ([]detection, error) {
	list := []detection{}
	for bad := 1; bad <= lot; {
		p, err := statistics.Detection(lot, n, bad)
		if err != nil {
			return nil, fmt.Errorf("detection: %w", err)
		}
		list = append(list, detection{bad, p})
		step := 1
		if bad >= 10 {
			step = bad / 2
		}
		if bad += step; bad > 10 && p > 0.9999 {
			break
		}
	}
	return list, nil
}
