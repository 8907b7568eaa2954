package report

import (
	"encoding/csv"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"storeyrod/defects"
)

// PlanColumns is the header of the CSV form of an inspection plan (RFC 4180): one
// line for each bay and lift of a stage that asks for something, and one without
// them where photos go by item and there is none.
func PlanColumns() []string {
	return []string{
		"building", "elevation", "stage", "stage_name", "lift", "bay", "needs", "falls_short", "scale", "hold_point", "refused",
		"photograph", "measure", "before", "before_what", "past",
	}
}

// WritePlanCSV writes an inspection plan.
func WritePlanCSV(w io.Writer, plan []defects.PlanEntry) error {
	out := csv.NewWriter(w)
	if err := out.Write(PlanColumns()); err != nil {
		return err
	}
	for _, p := range plan {
		cells := p.Cells
		if p.NoPhoto() { // asked for once, of the whole elevation
			cells = append([]defects.PlanCell{{Photo: true}}, cells...)
		}
		for _, c := range cells {
			if err := out.Write(planCells(p, c)); err != nil {
				return err
			}
		}
	}
	out.Flush()
	return out.Error()
}

func planCells(p defects.PlanEntry, c defects.PlanCell) []string {
	hold, photograph, scale := "", "", ""
	if c.Release {
		hold = p.Stage.HoldPoint
	}
	if c.Photo {
		photograph, scale = strings.Join(photoWords(p), "; "), yes(p.Scale)
	}
	var short, measure []string
	for _, s := range c.Short {
		short = append(short, s.Why)
	}
	for _, r := range p.Readings {
		measure = append(measure, r.Name+", "+r.HowMany)
	}
	return []string{
		Cell(p.Elevation.Building), Cell(p.Elevation.Name), p.Stage.Code, p.Stage.Name, count(c.Lift), count(c.Bay), c.Needs(),
		Cell(strings.Join(short, "; ")), scale, hold, yes(c.Refused), Cell(photograph), Cell(strings.Join(measure, "; ")),
		p.Due.On, Cell(p.Due.Text), yes(p.Past),
	}
}

func photoWords(p defects.PlanEntry) []string {
	out := make([]string, len(p.Photos))
	for i, row := range p.Photos {
		out[i] = row.Show + ", " + row.HowMany
	}
	return out
}

func yes(b bool) string {
	if b {
		return "yes"
	}
	return ""
}

// PlanLine is the bays of one lift that ask for the same.
type PlanLine struct {
	Lift  int
	Bays  string // "1–4, 6"
	Cells []defects.PlanCell
}

// PlanLines gathers the cells that are chosen, lift by lift from the top.
func PlanLines(cells []defects.PlanCell, chosen func(defects.PlanCell) bool) []PlanLine {
	var out []PlanLine
	for _, c := range cells {
		if !chosen(c) {
			continue
		}
		if len(out) == 0 || out[len(out)-1].Lift != c.Lift {
			out = append(out, PlanLine{Lift: c.Lift})
		}
		last := &out[len(out)-1]
		last.Cells = append(last.Cells, c)
	}
	for i, line := range out {
		bays := make([]int, len(line.Cells))
		for k, c := range line.Cells {
			bays[k] = c.Bay
		}
		out[i].Bays = runs(bays)
	}
	return out
}

// runs writes numbers as runs: 1, 2, 3, 6 becomes "1–3, 6".
func runs(numbers []int) string {
	slices.Sort(numbers)
	var parts []string
	for i := 0; i < len(numbers); {
		k := i
		for k+1 < len(numbers) && numbers[k+1] == numbers[k]+1 {
			k++
		}
		if k == i {
			parts = append(parts, strconv.Itoa(numbers[i]))
		} else {
			parts = append(parts, fmt.Sprintf("%d–%d", numbers[i], numbers[k]))
		}
		i = k + 1
	}
	return strings.Join(parts, ", ")
}
