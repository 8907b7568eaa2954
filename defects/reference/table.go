package reference

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"sync"

	"storeyrod/defects"
)

// table reads an embedded CSV file whose first line must name exactly the given
// columns. A fault in it is a fault of the build, which the tests of this
// package find; it therefore panics.
func table(name string, columns ...string) [][]string {
	text, err := data.ReadFile("data/" + name)
	if err != nil {
		panic(fmt.Sprintf("reference: read %s: %v", name, err))
	}
	r := csv.NewReader(bytes.NewReader(text))
	r.FieldsPerRecord = len(columns)
	rows, err := r.ReadAll()
	if err != nil {
		panic(fmt.Sprintf("reference: parse %s: %v", name, err))
	}
	if len(rows) == 0 || !slices.Equal(rows[0], columns) {
		panic(fmt.Sprintf("reference: %s: columns are not %v", name, columns))
	}
	return rows[1:]
}

var catalogue = sync.OnceValue(func() []defects.DefectKind {
	rows := table("catalogue.csv", "code", "stage", "group", "name", "seen", "cause", "consequence", "severity",
		"after_cover", "making_good", "evidence", "basis", "quantities", "competent")
	list := make([]defects.DefectKind, len(rows))
	for i, c := range rows {
		list[i] = defects.DefectKind{
			Code: c[0], Stage: c[1], Group: c[2], Name: c[3], Seen: c[4], Cause: c[5], Consequence: c[6],
			Severity: defects.Severity(c[7]), AfterCover: defects.AfterCover(c[8]), MakingGood: c[9], Evidence: c[10],
			Basis: c[11], Quantities: strings.Fields(c[12]), NeedsCompetent: c[13],
		}
	}
	return list
})

// Catalogue is the defect catalogue in the order of the work.
func Catalogue() []defects.DefectKind { return slices.Clone(catalogue()) }

// DefectKind finds a kind by its code ("SL-07"); the bool is false for an
// unknown one.
func DefectKind(code string) (defects.DefectKind, bool) {
	for _, k := range catalogue() {
		if k.Code == code {
			return k, true
		}
	}
	return defects.DefectKind{}, false
}

var stages = sync.OnceValue(func() []defects.Stage {
	rows := table("stages.csv", "code", "name", "order", "hold_point", "attendance", "hides", "released_by")
	list := make([]defects.Stage, len(rows))
	for i, c := range rows {
		order, err := strconv.Atoi(c[2])
		if err != nil {
			panic(fmt.Sprintf("reference: stages.csv: %v", err))
		}
		list[i] = defects.Stage{
			Code: c[0], Name: c[1], Order: order, HoldPoint: c[3], Attendance: c[4], Hides: c[5], ReleasedBy: c[6],
		}
	}
	return list
})

// Stages are the stages of the work in their order.
func Stages() []defects.Stage { return slices.Clone(stages()) }

// Stage finds a stage by its code; the bool is false for an unknown one.
func Stage(code string) (defects.Stage, bool) {
	for _, s := range stages() {
		if s.Code == code {
			return s, true
		}
	}
	return defects.Stage{}, false
}

// HoldPoints are the default hold points, H0 to H11.
func HoldPoints() []defects.HoldPoint {
	rows := table("holdpoints.csv", "code", "name", "stages", "before", "released_by")
	list := make([]defects.HoldPoint, len(rows))
	for i, c := range rows {
		list[i] = defects.HoldPoint{
			Code: c[0], Name: c[1], Stages: strings.Fields(c[2]), Before: strings.Fields(c[3]), ReleasedBy: c[4],
		}
	}
	return list
}

var cautions = sync.OnceValue(func() []defects.Caution {
	rows := table("cautions.csv", "topic", "text", "mark", "stages")
	list := make([]defects.Caution, len(rows))
	for i, c := range rows {
		list[i] = defects.Caution{Topic: c[0], Text: c[1], Mark: c[2], Stages: strings.Fields(c[3])}
	}
	return list
})

// Cautions are all safety and legal lines, in the order they are shown.
func Cautions() []defects.Caution { return slices.Clone(cautions()) }

// CautionsFor are the cautions of one stage: its own first, then those for
// everywhere. An unknown or empty stage has only the latter.
func CautionsFor(stage string) []defects.Caution {
	var own, everywhere []defects.Caution
	for _, c := range cautions() {
		switch {
		case len(c.Stages) == 0:
			everywhere = append(everywhere, c)
		case slices.Contains(c.Stages, stage):
			own = append(own, c)
		}
	}
	return append(own, everywhere...)
}

// RequiredReadings are the readings each stage needs by default.
func RequiredReadings() []defects.RequiredReading {
	rows := table("readings.csv", "stage", "name", "quantities", "unit", "instrument", "resolution", "typical_u",
		"how_many", "limit", "basis", "note")
	list := make([]defects.RequiredReading, len(rows))
	for i, c := range rows {
		list[i] = defects.RequiredReading{
			Stage: c[0], Name: c[1], Quantities: strings.Fields(c[2]), Unit: c[3], Instrument: c[4], Resolution: c[5],
			TypicalU: c[6], HowMany: c[7], Limit: c[8], Basis: c[9], Note: c[10],
		}
	}
	return list
}

// RequiredPhotos are the photos each stage needs by default.
func RequiredPhotos() []defects.RequiredPhoto {
	rows := table("photos.csv", "stage", "show", "kind", "scale", "how_many", "lost_after")
	list := make([]defects.RequiredPhoto, len(rows))
	for i, c := range rows {
		list[i] = defects.RequiredPhoto{Stage: c[0], Show: c[1], Kind: c[2], Scale: c[3], HowMany: c[4], LostAfter: c[5]}
	}
	return list
}
