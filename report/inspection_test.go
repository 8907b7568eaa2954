package report_test

import (
	"bytes"
	"encoding/csv"
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/report"
)

func entry() defects.PlanEntry {
	p := defects.PlanEntry{
		Elevation: defects.Elevation{Building: "=1+1", Name: "North"}, Stage: defects.Stage{Code: "BM", Name: "Base coat", HoldPoint: "H7"}, Scale: true, ByCell: true,
		Photos: []defects.RequiredPhoto{{Show: "mesh lap", HowMany: "1 per 20 m2"}}, Readings: []defects.RequiredReading{{Name: "depth", HowMany: "5"}},
		Due: defects.Due{On: "2026-06-02", Text: "Slips starts"},
	}
	for _, bay := range []int{1, 2, 3, 5} {
		p.Cells = append(p.Cells, defects.PlanCell{Bay: bay, Lift: 2, Photo: true, Release: bay == 5})
	}
	p.Cells = append(p.Cells, defects.PlanCell{Bay: 4, Lift: 1, Release: true, Refused: true})
	return p
}

func TestAnInspectionPlanIsATableOfItsBaysAndLifts(t *testing.T) {
	t.Parallel()
	var out bytes.Buffer
	require.NoError(t, report.WritePlanCSV(&out, []defects.PlanEntry{entry()}))
	rows, err := csv.NewReader(&out).ReadAll()
	require.NoError(t, err)
	require.Len(t, rows, 6)
	require.Equal(t, report.PlanColumns(), rows[0])
	require.Equal(t, []string{
		"'=1+1", "North", "BM", "Base coat", "2", "5", "photo and release", "", "yes", "H7", "", "mesh lap, 1 per 20 m2", "depth, 5",
		"2026-06-02", "Slips starts", "",
	}, rows[4])
	require.Equal(t, []string{"release", "", "", "H7", "yes", ""}, rows[5][6:12])
}

func TestBaysOfALiftAreGatheredIntoRuns(t *testing.T) {
	t.Parallel()
	lines := report.PlanLines(entry().Cells, func(c defects.PlanCell) bool { return c.Photo })
	require.Len(t, lines, 1)
	require.Equal(t, "1–3, 5", lines[0].Bays)
	lines = report.PlanLines(entry().Cells, func(c defects.PlanCell) bool { return c.Release })
	require.Len(t, lines, 2)
	require.Equal(t, []string{"5", "4"}, []string{lines[0].Bays, lines[1].Bays})
}
