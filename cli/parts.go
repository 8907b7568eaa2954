package cli

import (
	"bytes"
	"context"
	"encoding/csv"
	"errors"
	"io"
	"slices"
	"strconv"
	"strings"
)

const (
	maxReadingsFile = 256 << 20
	// rowsAtOnce is how many readings go into one request; a server takes no more.
	rowsAtOnce = 10_000
)

// tablePart is a part of a long table, with the header of the whole and where
// its rows stood there.
type tablePart struct {
	text  []byte
	lines map[int]int // line in the part: line in the file
}

// inParts sends a table in one piece when it is short, and else piece by piece.
func inParts(ctx context.Context, t target, siteID string, table []byte, tell func(int)) (tally, error) {
	parts, broken, err := splitTable(table, rowsAtOnce)
	if err != nil || len(parts) < 2 {
		return t.readings(ctx, siteID, table, tell) // faults of the table are told where it is read
	}
	sum := tally{refused: broken}
	for _, part := range parts {
		one, err := t.readings(ctx, siteID, part.text, tell)
		for i, r := range one.refused {
			one.refused[i].item = part.item(r.item)
		}
		sum.add(one)
		if err != nil {
			return sum, err
		}
	}
	return sum, nil
}

// item names a row of the file by the row of the part.
func (p tablePart) item(named string) string {
	text, ok := strings.CutPrefix(named, "row ")
	n, err := strconv.Atoi(text)
	if line := p.lines[n]; ok && err == nil && line > 0 {
		return "row " + strconv.Itoa(line)
	}
	return named
}

// splitTable cuts a table into parts of so many rows. The parts carry a column
// that tells how many rows of the file said the same before, since equal
// readings are told from repeated ones by counting them. Rows that are no CSV
// are refused here.
func splitTable(table []byte, rows int) (parts []tablePart, broken []refusal, err error) {
	in := csv.NewReader(bytes.NewReader(bytes.TrimPrefix(table, []byte("\xef\xbb\xbf"))))
	in.FieldsPerRecord = -1
	head, err := in.Read()
	if err != nil {
		return nil, nil, err
	}
	counted := slices.ContainsFunc(head, func(name string) bool { return strings.TrimSpace(name) == "repeat" })
	if !counted {
		head = append(head, "repeat")
	}
	seen := map[string]int{}
	var w *partWriter
	for {
		record, err := in.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		var parse *csv.ParseError
		if errors.As(err, &parse) {
			broken = append(broken, refusal{
				"row " + strconv.Itoa(parse.StartLine), "bad_row", "the line cannot be read as comma separated text: " + parse.Err.Error(),
			})
			continue
		}
		if err != nil {
			return nil, nil, err
		}
		line, _ := in.FieldPos(0)
		if !counted {
			key := sayingOf(head, record)
			record = append(record, strconv.Itoa(seen[key]))
			seen[key]++
		}
		if w == nil || w.rows == rows {
			parts = w.flush(parts)
			w = newPartWriter(head)
		}
		w.write(record, line)
	}
	return w.flush(parts), broken, nil
}

// sayingOf is what makes two rows say the same: the columns by which a reading
// without an id is known again.
func sayingOf(head, record []string) string {
	var key strings.Builder
	for i, cell := range record {
		if i < len(head) && slices.Contains([]string{
			"quantity", "value", "unit", "elevation", "x_m", "z_m", "opening", "zone", "measured_at", "instrument", "by", "bay", "lift",
		}, strings.TrimSpace(head[i])) {
			key.WriteString(strings.TrimSpace(cell) + "\x00")
		}
	}
	return key.String()
}

// partWriter writes one part and keeps where its rows come from.
type partWriter struct {
	buf   bytes.Buffer
	csv   *csv.Writer
	rows  int
	at    int // bytes whose lines are counted
	line  int // line that is written next
	lines map[int]int
}

func newPartWriter(head []string) *partWriter {
	w := &partWriter{line: 1, lines: map[int]int{}}
	w.csv = csv.NewWriter(&w.buf)
	w.record(head)
	return w
}

func (w *partWriter) write(record []string, line int) {
	w.lines[w.line] = line
	w.record(record)
	w.rows++
}

// record writes to memory, which does not fail.
func (w *partWriter) record(record []string) {
	_ = w.csv.Write(record)
	w.csv.Flush()
	w.line += bytes.Count(w.buf.Bytes()[w.at:], []byte("\n"))
	w.at = w.buf.Len()
}

func (w *partWriter) flush(parts []tablePart) []tablePart {
	if w == nil {
		return parts
	}
	return append(parts, tablePart{w.buf.Bytes(), w.lines})
}
