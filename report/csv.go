package report

import (
	"encoding/csv"
	"io"
	"strconv"
	"strings"
	"time"

	"storeyrod/defects"
)

// SnagColumns is the header of the CSV form of a snag list (RFC 4180).
func SnagColumns() []string {
	return []string{
		"walk", "number", "ref", "building", "elevation", "place", "bay", "lift", "x_m", "z_m", "opening",
		"code", "title", "severity", "state", "round", "stage", "gang", "requirement", "reading", "due", "due_reason",
		"due_text", "overdue_days", "also_due", "raised_at", "raised_by", "text", "photos",
	}
}

// WriteSnagCSV writes lists one after the other under one header.
func WriteSnagCSV(w io.Writer, lists []defects.SnagList, zone *time.Location) error {
	out := csv.NewWriter(w)
	if err := out.Write(SnagColumns()); err != nil {
		return err
	}
	for _, list := range lists {
		for _, r := range Rows(list, zone) {
			if err := out.Write(r.cells()); err != nil {
				return err
			}
		}
	}
	out.Flush()
	return out.Error()
}

func (r SnagRow) cells() []string {
	return []string{
		strconv.Itoa(r.Walk), strconv.Itoa(r.Number), r.Ref, Cell(r.Building), Cell(r.Elevation), Cell(r.Place),
		count(r.Bay), count(r.Lift), r.X, r.Z, Cell(r.Opening), Cell(r.Code), Cell(r.Title), r.Severity, r.State,
		count(r.Round), Cell(r.Stage), Cell(r.Gang), Cell(r.Requirement), Cell(r.Reading), r.Due, r.DueReason,
		Cell(r.DueText), count(r.OverdueDays), Cell(strings.Join(r.AlsoDue, "; ")), r.RaisedAt, Cell(r.RaisedBy), Cell(r.Text), strings.Join(r.Photos, " "),
	}
}

// Cell guards a typed text against being run as a formula by a spreadsheet: one
// that begins like a formula gets an apostrophe in front.
func Cell(text string) string {
	if text != "" && strings.ContainsRune("=+-@\t\r", rune(text[0])) {
		return "'" + text
	}
	return text
}
