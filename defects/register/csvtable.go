package register

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"storeyrod/defects"
)

// maxCell bounds one cell of a table, in bytes.
const maxCell = 2_000

// tableColumn is one column of a table and where its text goes.
type tableColumn[T any] struct {
	name string
	set  func(in *T, text string) error
}

// tableForm is the form of a table that is taken in.
type tableForm[T any] struct {
	what    string // "readings"
	columns []tableColumn[T]
	need    []string
	most    int // rows
	line    func(in *T, n int)
}

func columnNames[T any](cols []tableColumn[T]) []string {
	names := make([]string, len(cols))
	for i, c := range cols {
		names[i] = c.name
	}
	return names
}

// parse reads a table: UTF-8 with or without a byte order mark, comma separated
// (RFC 4180), with a header of column names in any order. Its size is checked
// before anything is read.
func (f tableForm[T]) parse(r io.Reader, max int64) ([]T, []Refusal, error) {
	raw, err := io.ReadAll(io.LimitReader(r, max+1))
	if err != nil {
		return nil, nil, fmt.Errorf("read table: %w", err)
	}
	if int64(len(raw)) > max {
		return nil, nil, defects.Refuse(defects.TooLarge, "table_too_large", fmt.Sprintf("a table of %s has at most %d bytes", f.what, max))
	}
	table := csv.NewReader(bytes.NewReader(bytes.TrimPrefix(raw, []byte("\xef\xbb\xbf"))))
	table.FieldsPerRecord = -1
	table.ReuseRecord = true
	cols, err := f.header(table)
	if err != nil {
		return nil, nil, err
	}
	return f.rows(table, cols)
}

// header reads the first line and finds each column's place.
func (f tableForm[T]) header(table *csv.Reader) ([]tableColumn[T], error) {
	head, err := table.Read()
	if errors.Is(err, io.EOF) {
		return nil, badHeader("empty_table", "the table has no header line")
	}
	if err != nil {
		return nil, badHeader("bad_header", "the header line cannot be read as comma separated text")
	}
	cols := make([]tableColumn[T], 0, len(head))
	for _, name := range head {
		name = strings.TrimSpace(name)
		named := func(c tableColumn[T]) bool { return c.name == name }
		at := slices.IndexFunc(f.columns, named)
		if at < 0 {
			return nil, f.unknownColumn(name)
		}
		if slices.ContainsFunc(cols, named) {
			return nil, badHeader("column_twice", "column "+name+" stands twice")
		}
		cols = append(cols, f.columns[at])
	}
	for _, need := range f.need {
		if !slices.ContainsFunc(cols, func(c tableColumn[T]) bool { return c.name == need }) {
			return nil, badHeader("column_missing", "column "+need+" is missing")
		}
	}
	return cols, nil
}

func (f tableForm[T]) unknownColumn(name string) error {
	text := "column " + strconv.Quote(shorten(name, 60)) + " is not known; known are " + strings.Join(columnNames(f.columns), ", ")
	if strings.ContainsAny(name, ";\t") {
		text = "the columns are to be separated by commas: " + text
	}
	return badHeader("unknown_column", text)
}

func badHeader(code, text string) error {
	return defects.RefuseField(defects.Invalid, "header", code, text)
}

// rows reads the lines after the header.
func (f tableForm[T]) rows(table *csv.Reader, cols []tableColumn[T]) (rows []T, refused []Refusal, err error) {
	for n := 0; ; n++ {
		record, err := table.Read()
		if errors.Is(err, io.EOF) {
			return rows, refused, nil
		}
		if n >= f.most {
			return nil, nil, defects.Refuse(defects.TooLarge, "too_many_rows", fmt.Sprintf("a table of %s has at most %d rows", f.what, f.most))
		}
		line := 0
		var in T
		if err != nil {
			line, err = brokenLine(err)
		} else {
			line, _ = table.FieldPos(0)
			err = tableRow(&in, record, cols)
		}
		if err != nil {
			refused = append(refused, Refusal{Item: "row " + strconv.Itoa(line), Err: rowRefusal(err)})
			continue
		}
		f.line(&in, line)
		rows = append(rows, in)
	}
}

// brokenLine tells where a line is that is no CSV.
func brokenLine(err error) (line int, refusal error) {
	text := "the line cannot be read as comma separated text"
	var parse *csv.ParseError
	if errors.As(err, &parse) {
		line = parse.StartLine
		text += ": " + parse.Err.Error()
	}
	return line, defects.RefuseField(defects.Invalid, "", "bad_row", text)
}

func tableRow[T any](in *T, record []string, cols []tableColumn[T]) error {
	if len(record) != len(cols) {
		return defects.RefuseField(defects.Invalid, "", "bad_row",
			fmt.Sprintf("the row has %d cells and the header %d", len(record), len(cols)))
	}
	for i, c := range cols {
		if err := checkCell(c.name, record[i]); err != nil {
			return err
		}
		// The reader uses its record again; a copy keeps the cell alone alive.
		if err := c.set(in, strings.Clone(strings.TrimSpace(record[i]))); err != nil {
			return err
		}
	}
	return nil
}

func checkCell(name, text string) error {
	if len(text) > maxCell {
		return defects.RefuseField(defects.Invalid, name, "too_long", fmt.Sprintf("at most %d bytes", maxCell))
	}
	if !utf8.ValidString(text) {
		return defects.RefuseField(defects.Invalid, name, "not_utf8", "the text is not UTF-8; save the table as UTF-8")
	}
	return nil
}

func wholeCell(name, text string) (int, error) {
	if text == "" {
		return 0, nil
	}
	n, err := strconv.Atoi(text)
	if err != nil || n < 0 || n > 1_000_000 {
		return 0, defects.RefuseField(defects.Invalid, name, "bad_number", strconv.Quote(shorten(text, 40))+" is not a whole number from 0 up")
	}
	return n, nil
}

func yesCell(name, text string) (bool, error) {
	switch strings.ToLower(text) {
	case "", "no", "false", "0":
		return false, nil
	case "yes", "true", "1":
		return true, nil
	}
	return false, defects.RefuseField(defects.Invalid, name, "bad_yes_no", strconv.Quote(shorten(text, 40))+" is neither yes nor no")
}
