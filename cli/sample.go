package cli

import (
	"bufio"
	"crypto/rand"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"slices"
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
	Drawn   any         `json:"drawn"` // numbers, or ids of --items
	Risk    any         `json:"risk"`
	Detect  []detection `json:"detect"`
}

type detection struct {
	Defective int     `json:"defective"`
	P         float64 `json:"p"`
}

type sampleFlags struct {
	lot                    int
	items                  string
	level, aql, inspection string
	zero                   bool
	discover               int
	confidence             float64
	seed                   string
	risk                   []string
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

--accept-zero takes the sample size of the lot's own letter and accepts no bad item;
--discover N takes as many as show one of N bad ones with --confidence.

--items FILE draws from a lot listed as comma separated text with the columns id and,
where each group is to be represented, stratum: the form in which a site's lot is
given out under "sample". "-" reads it from standard input.

An item's rank is the SHA-256 of the seed, a line feed and its number or id; the items
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
	flags.StringVar(&f.items, "items", "", "file that lists the lot, in place of --lot")
	flags.StringVar(&f.level, "level", "II", "general inspection level: I, II or III")
	flags.StringVar(&f.aql, "aql", "2.5", "acceptance quality limit, per cent")
	flags.StringVar(&f.inspection, "inspection", "normal", "normal, tightened or reduced")
	flags.BoolVar(&f.zero, "accept-zero", false, "accept no bad item, with the sample size of the lot's own letter")
	flags.IntVar(&f.discover, "discover", 0, "as many as show one of so many bad items")
	flags.Float64Var(&f.confidence, "confidence", 0.95, "probability of showing it")
	flags.StringVar(&f.seed, "seed", "", "text that fixes the draw")
	flags.StringSliceVar(&f.risk, "risk", nil, "items picked by a person, kept apart")
	cmd.MarkFlagsMutuallyExclusive("lot", "items")
	cmd.MarkFlagsMutuallyExclusive("accept-zero", "discover")
	return cmd
}

const (
	maxSampleLot   = 1_000_000
	maxSampleBytes = 64 << 20
)

func runSample(cmd *cobra.Command, f sampleFlags) error {
	if !cmd.Flags().Changed("seed") {
		f.seed = rand.Text()
	}
	spec, err := sampleSpec(cmd, f)
	if err != nil {
		return err
	}
	sample, err := statistics.TakeSample(spec)
	if err != nil {
		return usagef("%s", describe(err))
	}
	plan := sample.Plan
	answer := sampleAnswer{
		Lot: len(spec.Lot), LotCode: plan.LotCode, Code: plan.Code, N: plan.N, Ac: plan.Ac, Re: plan.Re, All: plan.All, Seed: f.seed,
		Drawn: itemIDs(sample.Drawn.Sample), Risk: itemIDs(sample.Drawn.Risk), Detect: []detection{},
	}
	if f.items == "" {
		if answer.Drawn, err = itemNumbers(sample.Drawn.Sample); err != nil {
			return err
		}
		if answer.Risk, err = itemNumbers(sample.Drawn.Risk); err != nil {
			return err
		}
	}
	for _, d := range sample.Detect {
		answer.Detect = append(answer.Detect, detection(d))
	}
	if err := json.NewEncoder(cmd.OutOrStdout()).Encode(answer); err != nil {
		return fmt.Errorf("write: %w", err)
	}
	return nil
}

// sampleSpec is what the flags ask for.
func sampleSpec(cmd *cobra.Command, f sampleFlags) (statistics.SampleSpec, error) {
	spec := statistics.SampleSpec{
		Level: f.level, AQL: f.aql, Inspection: statistics.Inspection(f.inspection), Bad: f.discover, Confidence: f.confidence,
		Seed: f.seed, Risk: f.risk,
	}
	switch {
	case f.zero:
		spec.Scheme = statistics.ZeroScheme
	case cmd.Flags().Changed("discover"):
		spec.Scheme = statistics.DiscoveryScheme
	}
	if f.items != "" {
		lot, err := lotFile(cmd, f.items)
		spec.Lot = lot
		return spec, err
	}
	if f.lot < 1 || f.lot > maxSampleLot {
		return spec, usagef("--lot: a lot has 1 to %d items", maxSampleLot)
	}
	spec.Lot = statistics.Numbered(f.lot)
	return spec, nil
}

// lotFile reads a lot: a row of column names, then one item a row.
func lotFile(cmd *cobra.Command, name string) ([]statistics.Item, error) {
	src := cmd.InOrStdin()
	if name != "-" {
		file, err := os.Open(name)
		if err != nil {
			return nil, usagef("--items: %s", err)
		}
		defer file.Close() //nolint:errcheck // read side
		src = file
	}
	table := csv.NewReader(skipMark(bufio.NewReader(io.LimitReader(src, maxSampleBytes))))
	rows, err := table.ReadAll()
	if err != nil {
		return nil, usagef("--items: cannot be read as comma separated text: %s", err)
	}
	if len(rows) < 2 {
		return nil, usagef("--items: a lot has 1 to %d items under a row of column names", maxSampleLot)
	}
	id, stratum := slices.Index(rows[0], "id"), slices.Index(rows[0], "stratum")
	if id < 0 {
		return nil, usagef("--items: there is no column id")
	}
	lot := make([]statistics.Item, len(rows)-1)
	for i, row := range rows[1:] {
		lot[i].ID = row[id]
		if stratum >= 0 {
			lot[i].Stratum = row[stratum]
		}
	}
	return lot, nil
}

func itemIDs(items []statistics.Item) []string {
	list := make([]string, len(items))
	for i, it := range items {
		list[i] = it.ID
	}
	return list
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
