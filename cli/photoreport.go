package cli

import (
	"encoding/csv"
	"errors"
	"fmt"
	"os"

	"storeyrod/defects"
	"storeyrod/report"
)

// photoReport is a table of what became of every file. Lines are written as
// files are dealt with, so that what an import had done when it was cut off is
// on record. A nil one writes nothing.
type photoReport struct {
	name string
	file *os.File
	csv  *csv.Writer
}

func newPhotoReport(name string) (*photoReport, error) {
	f, err := os.Create(name)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, fileError(err))
	}
	r := &photoReport{name: name, file: f, csv: csv.NewWriter(f)}
	return r, r.write("file", "result", "code", "reason", "photo")
}

func (r *photoReport) line(name, result string, refused *defects.Error, id string) error {
	if r == nil {
		return nil
	}
	code, reason := "", ""
	if refused != nil {
		code, reason = refused.CodeOrKind(), refused.Error()
	}
	return r.write(report.Cell(name), result, code, report.Cell(reason), id)
}

func (r *photoReport) write(cells ...string) error {
	err := r.csv.Write(cells)
	r.csv.Flush()
	if err = errors.Join(err, r.csv.Error()); err != nil {
		return fmt.Errorf("%s: %w", r.name, fileError(err))
	}
	return nil
}

func (r *photoReport) close() error {
	if err := r.file.Close(); err != nil {
		return fmt.Errorf("%s: %w", r.name, fileError(err))
	}
	return nil
}
