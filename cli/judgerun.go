package cli

import (
	"bufio"
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"storeyrod/defects"
)

// maxCSVRow bounds one record in bytes, so that a quote that is never closed
// does not take the whole input into memory.
const maxCSVRow = 1 << 20

// addedColumns are written behind the reading's own.
func addedColumns() []string {
	return []string{"limit_lower", "limit_upper", "verdict", "p_conform", "reason", "schedule", "edition", "clause", "basis"}
}

// judge is one run over a table of readings.
type judge struct {
	limits []*defects.Limits
	rule   defects.Rule
	guard  defects.Decimal
	faults *faults

	units map[string]defects.Quantity // by name
	cells []readingCell
	width int
	rows  int
	out   *bufio.Writer
	line  []byte
	texts texts
}

// readingCell is a column that is understood and its place in the table.
type readingCell struct {
	name string
	at   int
	set  func(in *defects.Input, text string) error
}

func (j *judge) run(ctx context.Context, src io.Reader, dst io.Writer) error {
	meter := &meteredReader{r: src, left: maxCSVRow}
	table := csv.NewReader(skipMark(bufio.NewReaderSize(meter, 64<<10)))
	table.FieldsPerRecord = -1
	table.ReuseRecord = true
	j.out = bufio.NewWriterSize(dst, 256<<10)
	if err := j.header(table); err != nil {
		return err
	}
	for {
		meter.left = maxCSVRow
		record, err := table.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		j.rows++
		var broken *csv.ParseError
		switch {
		case errors.As(err, &broken) && !errors.Is(err, errRowTooLong):
			j.faults.add("row "+strconv.Itoa(broken.StartLine), "cannot be read as comma separated text: "+broken.Err.Error()+" [bad_row]")
			continue
		case err != nil:
			return errors.Join(j.out.Flush(), fmt.Errorf("read row %d: %w", j.rows, err))
		}
		if err := j.row(table, record); err != nil {
			return err
		}
		if j.rows%4096 == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
	}
	if err := j.out.Flush(); err != nil {
		return fmt.Errorf("write: %w", err)
	}
	return nil
}

// header reads the column names and writes them with the added ones.
func (j *judge) header(table *csv.Reader) error {
	head, err := table.Read()
	if errors.Is(err, io.EOF) {
		return defects.RefuseField(defects.Invalid, "header", "empty_table", "the table has no header line")
	}
	if err != nil {
		return defects.RefuseField(defects.Invalid, "header", "bad_header", "the header line cannot be read: "+err.Error())
	}
	head = slices.Clone(head)
	j.width = len(head)
	for at, name := range head {
		name = strings.TrimSpace(name)
		set, ok := cellSetter(name)
		if !ok {
			continue
		}
		if slices.ContainsFunc(j.cells, func(c readingCell) bool { return c.name == name }) {
			return defects.RefuseField(defects.Invalid, "header", "column_twice", "column "+name+" stands twice")
		}
		j.cells = append(j.cells, readingCell{name, at, set})
	}
	for _, need := range []string{"quantity", "value", "unit"} {
		if !slices.ContainsFunc(j.cells, func(c readingCell) bool { return c.name == need }) {
			return defects.RefuseField(defects.Invalid, "header", "column_missing",
				"column "+need+" is missing; the columns are to be separated by commas")
		}
	}
	for _, name := range append(inputNames(head), addedColumns()...) {
		j.line = appendCell(j.line, name)
	}
	return j.endLine()
}

// inputNames are the names of a table's own columns in the answer. One that an
// added column has is written as input_NAME, so that no two columns share a
// name: a table that was judged before keeps its old verdict beside the new one.
func inputNames(head []string) []string {
	out := slices.Clone(head)
	for i, name := range head {
		trimmed := strings.TrimSpace(name)
		if !slices.Contains(addedColumns(), trimmed) {
			continue
		}
		for trimmed = "input_" + trimmed; slices.Contains(out, trimmed); {
			trimmed = "input_" + trimmed
		}
		out[i] = trimmed
	}
	return out
}

// cellSetter says where a column's text goes.
func cellSetter(name string) (func(*defects.Input, string) error, bool) {
	number := func(at func(*defects.Input) **defects.Decimal) func(*defects.Input, string) error {
		return func(in *defects.Input, text string) error {
			d, err := defects.ParseDecimal(text)
			if err == nil {
				*at(in) = &d
			}
			return err
		}
	}
	switch name {
	case "quantity":
		return func(in *defects.Input, text string) error { in.Quantity = text; return nil }, true
	case "unit":
		return func(in *defects.Input, text string) error { in.Unit = text; return nil }, true
	case "value":
		return func(in *defects.Input, text string) (err error) {
			in.Value, err = defects.ParseDecimal(text)
			return err
		}, true
	case "expanded_uncertainty":
		return number(func(in *defects.Input) **defects.Decimal { return &in.Expanded }), true
	case "base_length_m":
		return number(func(in *defects.Input) **defects.Decimal { return &in.BaseLength }), true
	case "nominal":
		return number(func(in *defects.Input) **defects.Decimal { return &in.Nominal }), true
	case "air_temperature_c":
		return number(func(in *defects.Input) **defects.Decimal { return &in.AirTemperature }), true
	case "relative_humidity":
		return number(func(in *defects.Input) **defects.Decimal { return &in.Humidity }), true
	case "trend":
		return setTrend, true
	case "area_m2":
		return number(func(in *defects.Input) **defects.Decimal { return &in.Area }), true
	case "zone":
		return setZone, true
	case "stage":
		return setStage, true
	case "courses":
		return setCourses, true
	case "failure_plane":
		return func(in *defects.Input, text string) error { in.FailurePlane = text; return nil }, true
	case "mode":
		return func(in *defects.Input, text string) error { in.Mode = text; return nil }, true
	}
	return nil, false
}

func setZone(in *defects.Input, text string) error {
	in.Zone = defects.Zone(text)
	if !defects.KnownZone(in.Zone) {
		return defects.RefuseField(defects.Invalid, "", "unknown_zone", "the zones are field, edge and ground")
	}
	return nil
}

func setTrend(in *defects.Input, text string) error {
	in.Trend = defects.Trend(text)
	if !defects.KnownTrend(in.Trend) {
		return defects.RefuseField(defects.Invalid, "", "unknown_trend", "a temperature is rising, falling or steady")
	}
	return nil
}

func setStage(in *defects.Input, text string) error {
	in.Stage = text
	if !defects.KnownStage(text) {
		return defects.RefuseField(defects.Invalid, "", "unknown_stage", "the stages are "+strings.Join(defects.StageCodes(), ", "))
	}
	return nil
}

func setCourses(in *defects.Input, text string) error {
	n, err := strconv.Atoi(text)
	if err != nil || n < 0 {
		return defects.RefuseField(defects.Invalid, "", "bad_number", strconv.Quote(text)+" is no number of courses")
	}
	in.Courses = n
	return nil
}

// row judges one reading by every schedule and writes a line for each.
func (j *judge) row(table *csv.Reader, record []string) error {
	in, fault := j.read(record)
	for i, l := range j.limits {
		v := defects.Verdict{Outcome: defects.NoVerdict, Schedule: l.Ref()}
		if fault != nil {
			v.Reason, v.ReasonText = fault.CodeOrKind(), fault.Error()
		} else {
			v = defects.Judge(in, l, j.rule, j.guard)
		}
		if i == 0 && (fault != nil || rowFault(v.Reason)) {
			line, _ := table.FieldPos(0)
			j.faults.add("row "+strconv.Itoa(line), v.ReasonText+" ["+v.Reason+"]")
		}
		if err := j.write(record, &v); err != nil {
			return err
		}
	}
	return nil
}

// rowFault reports whether the reading itself is wrong, in contrast to a
// reading that merely does not say enough.
func rowFault(reason string) bool {
	switch reason {
	case defects.ReasonBadUncertainty, defects.ReasonBadBaseLength:
		return true
	}
	return false
}

// read fills the reading from its cells; an empty cell says nothing.
func (j *judge) read(record []string) (in defects.Input, fault *defects.Error) {
	if len(record) != j.width {
		return in, defects.Refuse(defects.Invalid, "bad_row",
			fmt.Sprintf("the row has %d cells and the header %d", len(record), j.width))
	}
	for i := range j.cells {
		c := &j.cells[i]
		text := strings.TrimSpace(record[c.at])
		if text == "" && c.name != "value" {
			continue
		}
		if err := c.set(&in, text); err != nil {
			if errors.As(err, &fault) {
				return in, defects.RefuseField(fault.Kind, c.name, fault.CodeOrKind(), fault.Text)
			}
			return in, defects.RefuseField(defects.Invalid, c.name, "", err.Error())
		}
	}
	return in, j.checkUnit(&in)
}

// checkUnit is asked whatever the schedules hold: a wrong unit is a slip even
// where no limit applies.
func (j *judge) checkUnit(in *defects.Input) *defects.Error {
	q, known := j.units[in.Quantity]
	if !known {
		return defects.RefuseField(defects.Invalid, "quantity", defects.ReasonUnknownQuantity, "there is no quantity "+strconv.Quote(clip(in.Quantity)))
	}
	if in.Unit == q.Unit {
		return nil
	}
	return defects.RefuseField(defects.Invalid, "unit", defects.ReasonWrongUnit,
		fmt.Sprintf("%s is measured in %s, not in %q; units are not converted", q.Name, q.Unit, clip(in.Unit)))
}

// clip shortens foreign text before it is repeated in a message.
func clip(text string) string {
	const most = 60
	if len(text) <= most {
		return text
	}
	return strings.ToValidUTF8(text[:most], "") + "…"
}
