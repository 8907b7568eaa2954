package defects

import "slices"

// Stage is one step of the work. Its code is the two letters that defect codes
// start with.
type Stage struct {
	Code       string // "BM"
	Name       string
	Order      int    // position in the work, from 1; details before the coat share one
	HoldPoint  string // "H7", the one that ends it; "" = none
	Attendance string // hold, witness or surveillance, in words
	Hides      string // what the next stage hides for ever
	ReleasedBy string // who releases it
}

// HoldPoint is a point at which work stops until it is released, for a stage
// and an area.
type HoldPoint struct {
	Code       string // "H0" to "H11"
	Name       string
	Stages     []string // stages that must be right for it
	Before     []string // stages that must not start in the area without it
	ReleasedBy string
}

// stageOrder lists the stages as they follow one another on a wall; the details
// before the coat (OP MJ AB PN) go together.
func stageOrder() [][]string {
	return [][]string{
		{"SV"},
		{"SP"},
		{"BP"},
		{"IB"},
		{"FB"},
		{"FX"},
		{"OP", "MJ", "AB", "PN"},
		{"BM"},
		{"CM"},
		{"RP"},
		{"SL"},
		{"PT"},
		{"TB"},
		{"FN"},
		{"CL"},
		{"ST"},
		{"HO"},
		{"DP"},
		{"WA"},
	}
}

// StageOrder is the position of a stage in the work, from 1, and 0 for an
// unknown code.
func StageOrder(code string) int {
	for i, group := range stageOrder() {
		if slices.Contains(group, code) {
			return i + 1
		}
	}
	return 0
}

// StageCodes lists every stage in the order of the work.
func StageCodes() []string { return slices.Concat(stageOrder()...) }

// KnownStage reports whether code is empty or a stage.
func KnownStage(code string) bool { return code == "" || StageOrder(code) > 0 }
