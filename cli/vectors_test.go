package cli_test

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/cli"
)

// run runs the program in-process and answers what it wrote.
func run(t *testing.T, stdin string, args ...string) (code int, stdout, stderr string) {
	t.Helper()
	var out, errOut bytes.Buffer
	code = cli.Main(args, strings.NewReader(stdin), &out, &errOut, func(string) string { return "" })
	return code, out.String(), errOut.String()
}

// table reads CSV output as one map a row.
func table(t *testing.T, text string) []map[string]string {
	t.Helper()
	rows, err := csv.NewReader(strings.NewReader(text)).ReadAll()
	require.NoError(t, err)
	var out []map[string]string
	for _, row := range rows[1:] {
		one := map[string]string{}
		for i, name := range rows[0] {
			one[name] = row[i]
		}
		out = append(out, one)
	}
	return out
}

// vector is one entry of testdata/vectors/tolerance-vectors.json. Its source
// and how it is known go into every failure message.
type vector struct {
	ID       string                     `json:"id"`
	Inputs   map[string]json.RawMessage `json:"inputs"`
	Expected json.RawMessage            `json:"expected"`
	Source   string                     `json:"source"`
	Known    string                     `json:"read_or_memory"`
}

func (v vector) String() string { return v.ID + ": " + v.Source + " [" + v.Known + "]" }

func (v vector) in(name string) string { return strings.Trim(string(v.Inputs[name]), `"`) }

func vectors(t *testing.T, prefix string) []vector {
	t.Helper()
	text, err := os.ReadFile("../testdata/vectors/tolerance-vectors.json")
	require.NoError(t, err)
	var all, out []vector
	require.NoError(t, json.Unmarshal(text, &all))
	for _, v := range all {
		if strings.HasPrefix(v.ID, prefix) {
			out = append(out, v)
		}
	}
	require.NotEmpty(t, out, prefix)
	return out
}

func TestJudgeAppliesThePublishedTables(t *testing.T) {
	t.Parallel()
	for _, family := range []struct{ prefix, quantity, schedule, lineInput, base string }{
		{"din18202-t3-", "flatness", "din-18202-t3-line", "line", "gauge_m"},
		{"din18202-t2-", "plumb", "din-18202-t2", "", "nominal_m"},
		{"en1996-2-str", "straightness_on_plan", "en-1996-2-2006", "", "gauge_m"},
		{"labc-v7-bed-", "bed_joint_level", "labc-v7-fair-faced", "", "length_m"},
		{"nhbc2011-bed-", "bed_joint_level", "nhbc-2011-fair-faced", "", "length_m"},
	} {
		for _, v := range vectors(t, family.prefix) {
			schedule := family.schedule
			if family.lineInput != "" {
				schedule += v.in(family.lineInput)
			}
			in := "quantity,value,unit,base_length_m\n" + family.quantity + ",0,mm," + v.in(family.base) + "\n"
			code, out, errOut := run(t, in, "judge", "--rule", "simple", "--schedule", schedule)
			require.Zero(t, code, "%s: %s", v, errOut)
			require.JSONEq(t, string(v.Expected), table(t, out)[0]["limit_upper"], "%s", v)
		}
	}
}

func TestJudgePassesAndFailsAsThePublishedRulesDo(t *testing.T) {
	t.Parallel()
	for _, family := range []struct{ prefix, quantity, unit, schedule, input string }{
		{"etics-bond-40", "adhesive_contact_board", "%", "ewi-common-practice", "area_pct"},
		{"etics-mesh-overlap", "mesh_lap", "mm", "ewi-common-practice", "lap_mm"},
		{"en1996-1-1-joint-", "joint_width_bed", "mm", "en-1996-1-1-2005", "joint_mm"},
		{"en13914-1-temp-", "air_temperature", "degC", "en-13914-1-2016", "T_C"},
	} {
		for _, v := range vectors(t, family.prefix) {
			in := "quantity,value,unit\n" + family.quantity + "," + v.in(family.input) + "," + family.unit + "\n"
			_, out, _ := run(t, in, "judge", "--rule", "simple", "--schedule", family.schedule)
			want := "fail"
			if string(v.Expected) == "true" {
				want = "pass"
			}
			require.Equal(t, want, table(t, out)[0]["verdict"], "%s", v)
		}
	}
}

func TestPulloutGivesTheWorkedFigures(t *testing.T) {
	t.Parallel()
	for suffix, key := range map[string]string{"N1": "n1_kN", "NRk1": "nrk_kN", "NRd": "nrd_kN"} {
		for _, v := range vectors(t, "pull-A-"+suffix) {
			if v.ID != "pull-A-"+suffix {
				continue
			}
			var loads []json.Number
			require.NoError(t, json.Unmarshal(v.Inputs["loads_kN"], &loads))
			args := []string{"pullout"}
			for _, l := range loads {
				args = append(args, l.String())
			}
			code, out, _ := run(t, "", args...)
			require.Zero(t, code)
			var got map[string]json.RawMessage
			require.NoError(t, json.Unmarshal([]byte(out), &got))
			require.JSONEq(t, string(v.Expected), string(got[key]), "%s", v)
		}
	}
}

// A quote that is never closed must not take the whole input into memory.
func TestJudgeGivesUpOnAnEndlessRow(t *testing.T) {
	t.Parallel()
	in := "quantity,value,unit\n\"" + strings.Repeat("x,", 3<<20)
	code, _, errOut := run(t, in, "judge")
	require.Equal(t, 1, code)
	require.Contains(t, errOut, "longer than a megabyte")
}

func TestJudgeReadsATableWithAByteOrderMark(t *testing.T) {
	t.Parallel()
	code, out, errOut := run(t, "\ufeffquantity,value,unit\r\nmesh_lap,100,mm\r\n", "judge", "--rule", "simple")
	require.Zero(t, code, errOut)
	require.Equal(t, "pass", table(t, out)[0]["verdict"])
}

func FuzzJudge(f *testing.F) {
	f.Add("quantity,value,unit\njoint_width_bed,10,mm\n")
	f.Add("quantity,value,unit,zone,base_length_m\nplumb,1e400,mm,edge,\"2.5\n")
	f.Add("\ufeffvalue,unit,quantity,courses\n,,,\n1,2,3,4,5\n")
	f.Fuzz(func(t *testing.T, in string) {
		var out, errOut bytes.Buffer
		code := cli.Main([]string{"judge"}, strings.NewReader(in), &out, &errOut, func(string) string { return "" })
		require.Contains(t, []int{0, 1}, code)
		if code == 0 { // what was written is a table again
			_, err := csv.NewReader(&out).ReadAll()
			require.NoError(t, err)
		}
	})
}

func BenchmarkJudge(b *testing.B) {
	var in strings.Builder
	in.WriteString("id,quantity,value,unit,expanded_uncertainty,base_length_m,zone,note\n")
	const rows = 50_000
	for i := range rows {
		in.WriteString([]string{
			"R1,joint_width_bed,10.4,mm,0.5,,field,north\n", "R2,mesh_lap,104,mm,1,,,\n", "R3,board_gap,1.7,mm,0.2,,,east\n",
			"R4,base_profile_level,1.5,mm,0.5,2,,\n",
		}[i%4])
	}
	b.ReportAllocs()
	for b.Loop() {
		var out bytes.Buffer
		if code := cli.Main([]string{"judge"}, strings.NewReader(in.String()), &out, &out, func(string) string { return "" }); code != 0 {
			b.Fatal(code)
		}
	}
	b.ReportMetric(float64(rows*b.N)/b.Elapsed().Seconds(), "rows/s")
}
