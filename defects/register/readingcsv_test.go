package register_test

import (
	"errors"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

const csvLimit = 1 << 20

func TestReadingsTableTakesColumnsInAnyOrder(t *testing.T) {
	t.Parallel()
	table := "\xef\xbb\xbfunit,value,quantity,bay,lift,confirmed,note,elevation,expanded_uncertainty\r\n" +
		"mm,9.50,joint_width_bed,3,2,yes,\"two lines\nof text\",Long Row / North,0.5\r\n" +
		"\r\n" +
		"kN,0.92,pull_out_load,,,,,,\r\n"
	rows, refused, err := register.ParseReadingsCSV(strings.NewReader(table), csvLimit)
	require.NoError(t, err)
	require.Empty(t, refused)
	require.Equal(t, []register.ReadingInput{
		{
			Row: 2, Quantity: "joint_width_bed", Value: "9.50", Unit: "mm", Bay: 3, Lift: 2, Confirmed: true,
			Note: "two lines\nof text", ElevationID: "Long Row / North", Expanded: "0.5",
		},
		{Row: 5, Quantity: "pull_out_load", Value: "0.92", Unit: "kN"},
	}, rows)
}

func TestReadingsTableKnowsEveryColumn(t *testing.T) {
	t.Parallel()
	names := register.ReadingColumns()
	cells := make([]string, len(names))
	for i, name := range names {
		switch name {
		case "bay", "lift", "courses", "repeat":
			cells[i] = "4"
		case "confirmed":
			cells[i] = "no"
		default:
			cells[i] = "text-" + name
		}
	}
	table := strings.Join(names, ",") + "\n" + strings.Join(cells, ",") + "\n"
	rows, refused, err := register.ParseReadingsCSV(strings.NewReader(table), csvLimit)
	require.NoError(t, err)
	require.Empty(t, refused)
	require.Equal(t, []register.ReadingInput{{
		Row: 2, ID: "text-id", Quantity: "text-quantity", Value: "text-value", Observations: "text-observations", Unit: "text-unit",
		Expanded: "text-expanded_uncertainty", BaseLength: "text-base_length_m", Courses: 4,
		FailurePlane: "text-failure_plane", Mode: "text-mode", Nominal: "text-nominal", Trend: "text-trend", AirTemperature: "text-air_temperature_c", Humidity: "text-relative_humidity", Area: "text-area_m2",
		Dolly: "text-dolly", InstrumentID: "text-instrument", MeasuredAt: "text-measured_at", ByLogin: "text-by",
		Gang: "text-gang", Batch: "text-batch", Stage: "text-stage", ElevationID: "text-elevation", X: "text-x_m",
		Z: "text-z_m", Bay: 4, Lift: 4, Opening: "text-opening", Zone: "text-zone", Note: "text-note", SetID: "text-set", Repeat: 4,
	}}, rows)
}

func TestReadingsTableRefusesABadHeader(t *testing.T) {
	t.Parallel()
	cases := map[string]struct{ table, code, says string }{
		"nothing":         {"", "empty_table", "no header"},
		"unknown column":  {"quantity,value,unit,colour\n", "unknown_column", `"colour"`},
		"column twice":    {"quantity,value,unit,value\n", "column_twice", "value"},
		"value missing":   {"quantity,unit\n", "column_missing", "value"},
		"semicolons":      {"quantity;value;unit\n", "unknown_column", "separated by commas"},
		"another charset": {"quantity,value,unit,\xff\xfe\n", "unknown_column", "not known"},
		"stray quote":     {"quantity,val\"ue,unit\n", "bad_header", "cannot be read"},
	}
	for name, c := range cases {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			_, _, err := register.ParseReadingsCSV(strings.NewReader(c.table), csvLimit)
			var e *defects.Error
			require.ErrorAs(t, err, &e)
			require.Equal(t, c.code, e.Code)
			require.Equal(t, "header", e.Field)
			require.Contains(t, e.Text, c.says)
		})
	}
}

func TestReadingsTableNamesTheRowAtFaultAndGoesOn(t *testing.T) {
	t.Parallel()
	table := "quantity,value,unit,bay,confirmed,note\n" +
		"plumb,3,mm,1,,\n" +
		"plumb,4,mm\n" + // too few cells
		"plumb,5,mm,one,,\n" +
		"plumb,6,mm,-1,,\n" +
		"plumb,7,mm,1,perhaps,\n" +
		"plumb,8,mm,1,,\xff\n" +
		"plumb,9,mm,1,," + strings.Repeat("x", 2001) + "\n" +
		"plumb,1\"0,mm,1,,\n" +
		"plumb,11,mm,1,,\n"
	rows, refused, err := register.ParseReadingsCSV(strings.NewReader(table), csvLimit)
	require.NoError(t, err)
	require.Len(t, rows, 2)
	require.Equal(t, "3", rows[0].Value)
	require.Equal(t, "11", rows[1].Value)
	require.Equal(t, 10, rows[1].Row)
	type fault struct{ item, field, code string }
	var got []fault
	for _, f := range refused {
		require.Equal(t, defects.Invalid, f.Err.Kind)
		got = append(got, fault{f.Item, f.Err.Field, f.Err.Code})
	}
	require.Equal(t, []fault{
		{"row 3", "", "bad_row"},
		{"row 4", "bay", "bad_number"},
		{"row 5", "bay", "bad_number"},
		{"row 6", "confirmed", "bad_yes_no"},
		{"row 7", "note", "not_utf8"},
		{"row 8", "note", "too_long"},
		{"row 9", "", "bad_row"},
	}, got)
}

func TestReadingsTableHasLimits(t *testing.T) {
	t.Parallel()
	_, _, err := register.ParseReadingsCSV(strings.NewReader("quantity,value,unit\nplumb,1,mm\n"), 20)
	require.ErrorIs(t, err, defects.TooLarge)

	many := "quantity,value,unit\n" + strings.Repeat("plumb,1,mm\n", 50_001)
	_, _, err = register.ParseReadingsCSV(strings.NewReader(many), csvLimit)
	var e *defects.Error
	require.ErrorAs(t, err, &e)
	require.Equal(t, "too_many_rows", e.Code)

	_, _, err = register.ParseReadingsCSV(brokenReader{}, csvLimit)
	require.ErrorContains(t, err, "line is down")
}

type brokenReader struct{}

func (brokenReader) Read([]byte) (int, error) { return 0, errors.New("line is down") }

func FuzzParseReadingsCSV(f *testing.F) {
	f.Add("quantity,value,unit\nplumb,1,mm\n")
	f.Add("\xef\xbb\xbfunit,value,quantity,bay\r\nmm,\"1\n2\",plumb,3\r\n")
	f.Add("quantity,value,unit,note\nplumb,1,mm,\"open\n")
	f.Add("quantity,value,unit,confirmed\nplumb,1,mm,maybe\nplumb\n\n,,,\n")
	f.Add("quantity;value;unit\n")
	f.Fuzz(func(t *testing.T, table string) {
		rows, refused, err := register.ParseReadingsCSV(strings.NewReader(table), 1<<16)
		if err != nil {
			var e *defects.Error
			require.ErrorAs(t, err, &e)
			require.Empty(t, rows)
			return
		}
		for _, in := range rows {
			require.Positive(t, in.Row)
			require.True(t, utf8.ValidString(in.Quantity+in.Value+in.Unit+in.Note))
			require.GreaterOrEqual(t, in.Bay, 0)
		}
		for _, r := range refused {
			require.NotEmpty(t, r.Item)
			require.NotNil(t, r.Err)
			require.True(t, utf8.ValidString(r.Err.Error()))
		}
	})
}
