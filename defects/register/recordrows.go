package register

import (
	"bufio"
	"bytes"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"unicode/utf8"

	"storeyrod/defects"
)

const (
	maxRecordLine = 16 << 20 // bytes; longer ones are no row that this program wrote
	rowsAtOnce    = 500      // rows that go to the database together
	bytesAtOnce   = 4 << 20
)

// badRow is a refusal of one line of a record.
func badRow(code, text string) error { return defects.Refuse(defects.Invalid, code, text) }

// encodeRow writes a row as a JSON object with the columns in the table's order
// and a line feed. Bytes are a string when they are UTF-8, as those of schedules
// are, and else {"base64": …}.
func encodeRow(out *bytes.Buffer, t Table, row Row) error {
	for i, c := range t.Columns {
		out.WriteByte("{,"[min(i, 1)])
		if err := encodeText(out, c.Name); err != nil {
			return err
		}
		out.WriteByte(':')
		if err := encodeValue(out, row[i]); err != nil {
			return fmt.Errorf("%s.%s: %w", t.Name, c.Name, err)
		}
	}
	out.WriteString("}\n")
	return nil
}

func encodeValue(out *bytes.Buffer, value any) error {
	switch v := value.(type) {
	case nil:
		out.WriteString("null")
	case int64:
		out.WriteString(strconv.FormatInt(v, 10))
	case string:
		return encodeText(out, v)
	case []byte:
		if utf8.Valid(v) {
			return encodeText(out, string(v))
		}
		out.WriteString(`{"base64":"` + base64.StdEncoding.EncodeToString(v) + `"}`)
	default:
		return fmt.Errorf("a value of type %T is held by no record", v)
	}
	return nil
}

func encodeText(out *bytes.Buffer, text string) error {
	if !utf8.ValidString(text) {
		return errors.New("text is not UTF-8")
	}
	enc := json.NewEncoder(out)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(text); err != nil {
		return err
	}
	out.Truncate(out.Len() - 1) // the line feed
	return nil
}

// decodeRow reads a line that encodeRow wrote, and nothing else: other columns,
// another order or another way of writing the same are refused.
func decodeRow(line []byte, t Table) (Row, error) {
	dec := json.NewDecoder(bytes.NewReader(line))
	dec.UseNumber()
	if token, err := dec.Token(); err != nil || token != json.Delim('{') {
		return nil, badRow("bad_row", "is no JSON object")
	}
	row := make(Row, len(t.Columns))
	for i, c := range t.Columns {
		name, err := dec.Token()
		if err != nil || name != c.Name {
			return nil, badColumn(t, c, name)
		}
		if row[i], err = decodeValue(dec, c); err != nil {
			return nil, err
		}
	}
	if token, err := dec.Token(); err != nil || token != json.Delim('}') {
		return nil, badColumn(t, Column{}, token)
	}
	var again bytes.Buffer
	if err := encodeRow(&again, t, row); err != nil || !bytes.Equal(bytes.TrimSuffix(again.Bytes(), []byte("\n")), line) {
		return nil, badRow("bad_row", "is not written as a record is")
	}
	return row, nil
}

// badColumn says what is wrong with a name that is not the expected one.
func badColumn(t Table, want Column, got json.Token) error {
	name, ok := got.(string)
	known := slices.ContainsFunc(t.Columns, func(c Column) bool { return c.Name == name })
	switch {
	case ok && !known:
		return badRow("unknown_column", fmt.Sprintf("has a column %q that this program does not know", shorten(name, 80)))
	case want.Name != "" && got == json.Delim('}'):
		return badRow("missing_column", "has no column "+want.Name)
	}
	return badRow("bad_row", "has not the columns of "+t.Name+" in their order")
}

func decodeValue(dec *json.Decoder, c Column) (any, error) {
	token, err := dec.Token()
	if err != nil {
		return nil, badRow("bad_row", "is broken JSON")
	}
	bad := badRow("bad_value", "has a value in column "+c.Name+" that does not belong there")
	switch v := token.(type) {
	case nil:
		if c.Null {
			return nil, nil
		}
	case string:
		switch c.Kind {
		case TextColumn:
			return v, nil
		case BytesColumn:
			return []byte(v), nil
		}
	case json.Number:
		n, err := strconv.ParseInt(v.String(), 10, 64)
		if err == nil && (c.Kind == WholeColumn || c.Kind == TruthColumn && (n == 0 || n == 1)) {
			return n, nil
		}
	case json.Delim:
		if c.Kind == BytesColumn && v == '{' {
			return decodeBytes(dec, bad)
		}
	}
	return nil, bad
}

func decodeBytes(dec *json.Decoder, bad error) (any, error) {
	name, err := dec.Token()
	text, err2 := dec.Token()
	end, err3 := dec.Token()
	coded, ok := text.(string)
	if errors.Join(err, err2, err3) != nil || name != "base64" || end != json.Delim('}') || !ok {
		return nil, bad
	}
	plain, err := base64.StdEncoding.Strict().DecodeString(coded)
	if err != nil {
		return nil, bad
	}
	return plain, nil
}

// eachLine reads a file line by line. Every line ends in a line feed; a longer
// one than may be is refused before it is in memory.
func eachLine(r io.Reader, each func(n int, line []byte) error) error {
	lines := bufio.NewScanner(r)
	lines.Buffer(nil, maxRecordLine)
	ended := true
	lines.Split(func(data []byte, atEOF bool) (int, []byte, error) {
		if i := bytes.IndexByte(data, '\n'); i >= 0 {
			return i + 1, data[:i], nil // a carriage return belongs to the line
		}
		if !atEOF || len(data) == 0 {
			return 0, nil, nil
		}
		ended = false
		return len(data), data, nil
	})
	n := 0
	for lines.Scan() {
		n++
		if err := each(n, lines.Bytes()); err != nil {
			return err
		}
	}
	switch err := lines.Err(); {
	case errors.Is(err, bufio.ErrTooLong):
		return badRow("line_too_long", fmt.Sprintf("line %d is longer than %d MiB", n+1, maxRecordLine>>20))
	case err != nil:
		return err
	case !ended:
		return badRow("bad_row", fmt.Sprintf("line %d does not end in a line feed", n))
	}
	return nil
}
