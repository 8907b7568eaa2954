package reference_test

import (
	"encoding/json"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
)

// vector is one entry of testdata/vectors/tolerance-vectors.json. Source and
// Known (read, from memory, arithmetic) go into every failure message.
type vector struct {
	ID       string                     `json:"id"`
	Quantity string                     `json:"quantity"`
	Inputs   map[string]json.RawMessage `json:"inputs"`
	Expected json.RawMessage            `json:"expected"`
	Source   string                     `json:"source"`
	Within   json.Number                `json:"tolerance"`
	Known    string                     `json:"read_or_memory"`
}

func (v vector) String() string { return v.ID + ": " + v.Source + " [" + v.Known + "]" }

// input is one input's decimal or word as written in the file.
func (v vector) input(t *testing.T, name string) string {
	t.Helper()
	text, ok := v.Inputs[name]
	require.True(t, ok, "%s has no input %s", v.ID, name)
	return strings.Trim(string(text), `"`)
}

func (v vector) decimal(t *testing.T, name string) defects.Decimal {
	t.Helper()
	d, err := defects.ParseDecimal(v.input(t, name))
	require.NoError(t, err, v.ID)
	return d
}

func (v vector) list(t *testing.T, name string) []defects.Decimal {
	t.Helper()
	var numbers []json.Number
	require.NoError(t, json.Unmarshal(v.Inputs[name], &numbers), v.ID)
	list := make([]defects.Decimal, len(numbers))
	for i, n := range numbers {
		list[i] = defects.MustDecimal(n.String())
	}
	return list
}

func (v vector) wants(t *testing.T) defects.Decimal {
	t.Helper()
	d, err := defects.ParseDecimal(string(v.Expected))
	require.NoError(t, err, v.ID)
	return d
}

func (v vector) wantsTrue(t *testing.T) bool {
	t.Helper()
	var want bool
	require.NoError(t, json.Unmarshal(v.Expected, &want), v.ID)
	return want
}

func (v vector) equal(t *testing.T, got defects.Decimal) {
	t.Helper()
	require.Zero(t, v.wants(t).Cmp(got), "want %s, got %s (%s)", v.Expected, got, v)
}

func vectors(t *testing.T) []vector {
	t.Helper()
	text, err := os.ReadFile("../../testdata/vectors/tolerance-vectors.json")
	require.NoError(t, err)
	var list []vector
	require.NoError(t, json.Unmarshal(text, &list))
	return list
}

// notYet names the families that no part of the program answers yet, and why.
// An entry that matches no vector fails the test, so the list cannot grow old.
func notYet() map[string]string {
	return map[string]string{
		"din18202-grid-": "level grids: the survey's tests in package defects",
		"sia266-convex":  "end gaps of a bulge: the survey's tests in package defects",
		"wind-":          "wind suction: the designer's",
		"cpe":            "wind suction: the designer's",
		"we-":            "wind suction: the designer's",
		"anchors-":       "number of anchors from suction: the fixings' tests in package defects",
		"bs8539-":        "proof-test counts and escalation: the fixings' tests in package defects",
	}
}

type checker func(t *testing.T, v vector)

// families lists what is run; the longest matching prefix decides.
func families() map[string]checker {
	return map[string]checker{
		"din18202-t3-":         checkFlatnessTable,
		"din18202-t2-":         checkUpper("din-18202-t2", "plumb", "nominal_m", ""),
		"en1996-2-str":         checkUpper("en-1996-2-2006", "straightness_on_plan", "gauge_m", ""),
		"en1996-2-leaf-":       checkLargerOf,
		"en1996-1-1-joint-":    checkPasses("en-1996-1-1-2005", "joint_width_bed", "joint_mm", "mm"),
		"sia266-plumb-":        checkSwiss("plumb"),
		"sia266-flat-":         checkSwiss("flatness"),
		"dtu20.1-plumb":        checkUpper("dtu-20-1-2020", "plumb", "", "2.5"),
		"bs8000-3-str5":        checkUpper("bs-8000-3", "straightness_on_plan", "", "5"),
		"bs8000-3-v7":          checkUpper("bs-8000-3", "plumb", "", "7"),
		"nhbc2019-plan5":       checkUpper("nhbc-2019-fair-faced", "straightness_on_plan", "length_m", ""),
		"nhbc2019-plumb":       checkUpper("nhbc-2019-fair-faced", "plumb", "", "2.5"),
		"nhbc2019-reveal":      checkUpper("nhbc-2019-fair-faced", "angle_offset", "gauge_m", ""),
		"nhbc2011-bed-":        checkUpper("nhbc-2011-fair-faced", "bed_joint_level", "length_m", ""),
		"labc-v7-bed-":         checkUpper("labc-v7-fair-faced", "bed_joint_level", "length_m", ""),
		"labc-v7-plan":         checkUpper("labc-v7-fair-faced", "straightness_on_plan", "length_m", ""),
		"labc-v7-plumb-total":  checkUpper("labc-v7-fair-faced", "plumb", "", "9"),
		"labc-v7-plumb-storey": checkUpper("labc-v7-fair-faced", "plumb", "", "2.5"),
		"joint8-":              checkJointOfEight,
		"joint8-avg":           checkMeanOfEight,
		"pull-":                checkPullOut,
		"pull-A-step":          checkStep,
		"etag020B-":            checkFrameAnchor,
		"etics-bond-40":        checkPasses("ewi-common-practice", "adhesive_contact_board", "area_pct", "%"),
		"etics-mesh-overlap":   checkPasses("ewi-common-practice", "mesh_lap", "lap_mm", "mm"),
		"onorm-basecoat-":      checkCoatClass,
		"basecoat-eval-":       checkCoatSet,
		"din18202-t1-":         checkSize,
		"en1996-2-align":       checkUpper("en-1996-2-2006", "storey_alignment", "", "1"),
		"en1996-2-cavity":      checkNominal("en-1996-2-2006", "wall_thickness"),
		"bs8000-3-thk":         checkNominal("bs-8000-3", "wall_thickness"),
		"dtu20.1-dist":         checkUpper("dtu-20-1-2020", "position", "", "1"),
		"nhbc2019-section":     checkUpper("nhbc-2019-fair-faced", "straightness_in_section", "", "2.5"),
		"etag004-S-":           checkBondedArea,
		"en13914-2-class":      checkPlasterClass,
		"din18550-":            checkRender,
		"nhbc-temp-":           checkRising,
		"nhbc-temp-prot":       checkProtection,
		"dew-":                 checkDewPoint,
		"substrate-3K-":        checkAboveDewPoint,
		"etics-uneven-":        checkUneven,
		"en13914-1-temp-":      checkPasses("en-13914-1-2016", "air_temperature", "T_C", "degC"),
	}
}

func TestPublishedTolerancesAndWorkedValues(t *testing.T) {
	t.Parallel()
	run, later := families(), notYet()
	used := make(map[string]int)
	for _, v := range vectors(t) {
		best, check := "", checker(nil)
		for prefix, c := range run {
			if strings.HasPrefix(v.ID, prefix) && len(prefix) > len(best) {
				best, check = prefix, c
			}
		}
		for prefix := range later {
			if strings.HasPrefix(v.ID, prefix) && len(prefix) > len(best) {
				best, check = prefix, nil
			}
		}
		require.NotEmpty(t, best, "no family for %s", v.ID)
		used[best]++
		if check != nil {
			t.Run(v.ID, func(t *testing.T) { check(t, v) })
		}
	}
	for prefix := range run {
		require.Positive(t, used[prefix], prefix)
	}
	for prefix := range later {
		require.Positive(t, used[prefix], prefix)
	}
}
