package cli

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"

	"storeyrod/defects"
)

// write appends a judged line: the reading's own cells, then the verdict.
func (j *judge) write(record []string, v *defects.Verdict) error {
	for i := range j.width {
		cell := ""
		if i < len(record) {
			cell = record[i]
		}
		j.line = appendCell(j.line, cell)
	}
	j.line = j.texts.appendDecimal(j.line, v.Lower)
	j.line = j.texts.appendDecimal(j.line, v.Upper)
	j.line = appendCell(j.line, string(v.Outcome))
	if v.PConform != nil {
		j.line = strconv.AppendFloat(j.line, *v.PConform, 'g', 10, 64)
	}
	j.line = append(j.line, ',')
	j.line = j.texts.appendReason(j.line, v.Reason, v.ReasonText, v.Warning)
	j.line = appendCell(j.line, v.Schedule)
	j.line = appendCell(j.line, v.Edition)
	j.line = appendCell(j.line, v.Clause)
	j.line = appendCell(j.line, v.BasisWords())
	return j.endLine()
}

// endLine replaces the last comma and hands the line over.
func (j *judge) endLine() error {
	j.line[len(j.line)-1] = '\n'
	_, err := j.out.Write(j.line)
	j.line = j.line[:0]
	if err != nil {
		return fmt.Errorf("write: %w", err)
	}
	return nil
}

// appendCell writes a cell and a comma, quoted as RFC 4180 asks.
func appendCell(b []byte, cell string) []byte {
	if !strings.ContainsAny(cell, ",\"\r\n") {
		return append(append(b, cell...), ',')
	}
	b = append(b, '"')
	for i := range len(cell) {
		if cell[i] == '"' {
			b = append(b, '"')
		}
		b = append(b, cell[i])
	}
	return append(b, '"', ',')
}

// texts remembers how the few limits and reasons of a run are written.
type texts struct {
	decimals map[defects.Decimal]string
	reasons  map[string]string
}

const maxTexts = 10_000

func (t *texts) appendDecimal(b []byte, d *defects.Decimal) []byte {
	if d == nil {
		return append(b, ',')
	}
	text, ok := t.decimals[*d]
	if !ok {
		text = d.String()
		if t.decimals == nil || len(t.decimals) >= maxTexts {
			t.decimals = map[defects.Decimal]string{}
		}
		t.decimals[*d] = text
	}
	return append(append(b, text...), ',')
}

func (t *texts) appendReason(b []byte, reason, text, warning string) []byte {
	switch {
	case reason == "" && warning == "":
		return append(b, ',')
	case warning != "": // names the reading's own figures, so it is not remembered
		if reason != "" {
			warning = reasonWords(reason, text) + "; " + warning
		}
		return appendCell(b, warning)
	}
	known, ok := t.reasons[text]
	if !ok {
		known = reasonWords(reason, text)
		if t.reasons == nil || len(t.reasons) >= maxTexts {
			t.reasons = map[string]string{}
		}
		t.reasons[text] = known
	}
	return appendCell(b, known)
}

var errRowTooLong = errors.New("a row is longer than a megabyte; a quote may not be closed")

// meteredReader gives up when one record takes too many bytes. It fills its
// buffer ahead of the record, so the bound is not exact.
type meteredReader struct {
	r    io.Reader
	left int
}

func (m *meteredReader) Read(p []byte) (int, error) {
	if m.left <= 0 {
		return 0, errRowTooLong
	}
	n, err := m.r.Read(p)
	m.left -= n
	return n, err
}

// skipMark drops a byte order mark.
func skipMark(r *bufio.Reader) io.Reader {
	if head, err := r.Peek(3); err == nil && bytes.Equal(head, []byte("\xef\xbb\xbf")) {
		_, _ = r.Discard(3)
	}
	return r
}
