package register

import "io"

// ParseReadingsCSV reads a table of readings: UTF-8, a header of the names in
// ReadingColumns in any order. Rows that cannot be taken are answered as
// refusals and the rest is read on; the error is for a file that cannot be read
// as a table at all.
func ParseReadingsCSV(r io.Reader, max int64) ([]ReadingInput, []Refusal, error) {
	return nil, nil, errUnfinished
}
