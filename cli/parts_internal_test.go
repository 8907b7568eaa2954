package cli

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/defects/register"
)

// partsTarget reads tables as a server does and keeps what it was sent.
type partsTarget struct {
	target
	sent [][]register.ReadingInput
	fail int // the part after which it ends the run; 0 = none
}

func (p *partsTarget) readings(_ context.Context, _ string, table []byte, tell func(int)) (tally, error) {
	rows, refused, err := register.ParseReadingsCSV(bytes.NewReader(table), 1<<30)
	if err != nil {
		return tally{}, err
	}
	p.sent = append(p.sent, rows)
	if p.fail == len(p.sent) {
		return tally{}, errors.New("the line is down")
	}
	tell(len(rows))
	return tally{taken: len(rows), refused: refusals(refused)}, nil
}

func TestALongTableIsSentInParts(t *testing.T) {
	t.Parallel()
	var table strings.Builder
	table.WriteString("quantity,value,unit,measured_at,bay,note\n")
	for i := range rowsAtOnce + 5 {
		switch i {
		case 3:
			table.WriteString("mesh_lap,1\"1,mm,,1,\n") // no CSV; line 5
		case 4:
			table.WriteString("mesh_lap,110,mm,,1,\"two\nlines\"\n")
		case rowsAtOnce + 4:
			table.WriteString("mesh_lap,110,mm,,one,\n") // line 10 007 for the two lines above
		default:
			// Alike in all that a reading is known by, though not in its note.
			fmt.Fprintf(&table, "mesh_lap,110,mm,2026-01-05T10:00:00Z,1,note %d\n", i)
		}
	}
	to := &partsTarget{}
	told := 0
	sum, err := inParts(t.Context(), to, "site", []byte(table.String()), func(n int) { told += n })
	require.NoError(t, err)
	require.Len(t, to.sent, 2)
	require.Len(t, to.sent[0], rowsAtOnce)
	require.Equal(t, rowsAtOnce+3, sum.taken)
	require.Equal(t, sum.taken, told)
	var items []string
	for _, r := range sum.refused {
		items = append(items, r.item)
	}
	require.Equal(t, []string{"row 5", "row 10007"}, items, "named as in the file")
	repeats := map[int]bool{}
	for _, part := range to.sent {
		for _, row := range part {
			if row.MeasuredAt != "" {
				require.False(t, repeats[row.Repeat], "each repeat is counted once")
				repeats[row.Repeat] = true
			}
		}
	}

	short := &partsTarget{}
	_, err = inParts(t.Context(), short, "site", []byte("quantity,value,unit\nmesh_lap,110,mm\n"), func(int) {})
	require.NoError(t, err)
	require.Len(t, short.sent, 1)

	down := &partsTarget{fail: 2}
	sum, err = inParts(t.Context(), down, "site", []byte(table.String()), func(int) {})
	require.ErrorContains(t, err, "the line is down")
	require.Equal(t, rowsAtOnce, sum.taken, "what was taken before is told")
}
