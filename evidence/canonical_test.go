package evidence

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// jcsVectors is the shape of testdata/jcs.json, which names its sources.
type jcsVectors struct {
	Documents []struct {
		ID          string
		JSON        string
		ExpectedHex string `json:"expected_hex"`
	}
	Numbers []struct {
		ID       string
		Bits     string
		Expected string
	}
	NumberFile struct {
		First []string
		Sums  []struct {
			Lines  int
			Bytes  int
			SHA256 string
		}
	} `json:"number_file"`
}

func readVectors(t testing.TB, file string, into any) {
	t.Helper()
	raw, err := os.ReadFile("testdata/" + file)
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(raw, into))
}

func bitsOf(t testing.TB, text string) float64 {
	t.Helper()
	bits, err := strconv.ParseUint(text, 16, 64)
	require.NoError(t, err)
	return math.Float64frombits(bits)
}

func TestCanonicalJSONGivesThePublishedForms(t *testing.T) {
	t.Parallel()
	var v jcsVectors
	readVectors(t, "jcs.json", &v)
	require.Len(t, v.Documents, 6)
	for _, d := range v.Documents {
		want, err := hex.DecodeString(d.ExpectedHex)
		require.NoError(t, err)
		got, err := CanonicalJSON([]byte(d.JSON))
		require.NoError(t, err, d.ID)
		require.Equal(t, string(want), string(got), d.ID)
	}
}

func TestCanonicalWritesThePublishedNumbers(t *testing.T) {
	t.Parallel()
	var v jcsVectors
	readVectors(t, "jcs.json", &v)
	require.Len(t, v.Numbers, 7)
	for _, n := range v.Numbers {
		got, err := Canonical(bitsOf(t, n.Bits))
		require.NoError(t, err, n.ID)
		require.Equal(t, n.Expected, string(got), n.ID)
	}
}

// The sums are of a published file of numbers; testdata/jcs.json says how its
// lines come about.
func TestCanonicalNumbersGiveThePublishedSums(t *testing.T) {
	t.Parallel()
	var v jcsVectors
	readVectors(t, "jcs.json", &v)
	next := numberFile(t, v.NumberFile.First)
	var file bytes.Buffer
	lines := 0
	for _, sum := range v.NumberFile.Sums {
		for ; lines < sum.Lines; lines++ {
			f := next()
			number, err := Canonical(f)
			require.NoError(t, err)
			fmt.Fprintf(&file, "%x,%s\n", math.Float64bits(f), number)
		}
		require.Equal(t, sum.Bytes, file.Len())
		require.Equal(t, sum.SHA256, fmt.Sprintf("%x", sha256.Sum256(file.Bytes())))
	}
	require.Equal(t, 10_000, lines)
}

// numberFile gives the doubles of the published file, one a call.
func numberFile(t *testing.T, first []string) func() float64 {
	const serial, serialFrom = 2000, 0x0010000000000000
	var block [sha256.Size]byte
	var rest []byte
	i := -1
	return func() float64 {
		i++
		if i < len(first) {
			return bitsOf(t, first[i])
		}
		if i < len(first)+serial {
			return math.Float64frombits(uint64(serialFrom + i - len(first)))
		}
		for {
			if len(rest) == 0 {
				block = sha256.Sum256(block[:])
				rest = block[:]
			}
			f := math.Float64frombits(binary.LittleEndian.Uint64(rest))
			rest = rest[8:]
			if f != 0 && !math.IsNaN(f) && !math.IsInf(f, 0) {
				return f
			}
		}
	}
}

func TestCanonicalJSON(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct{ in, want string }{
		"white space goes":                   {" {\t\"a\" :\r\n[ 1 , 2 ] } ", `{"a":[1,2]}`},
		"empty containers":                   {`[{},[],[ ],{ }]`, `[{},[],[],{}]`},
		"literals":                           {`[null,true,false]`, `[null,true,false]`},
		"minus zero":                         {`[-0,-0.0,-0e5]`, `[0,0,0]`},
		"too small becomes zero":             {`1e-400`, `0`},
		"exponents":                          {`[1E30,1e+21,1e20,1e-6,1e-7,4.50,2e-3]`, `[1e+30,1e+21,100000000000000000000,0.000001,1e-7,4.5,0.002]`},
		"nearest double":                     {`9007199254740993`, `9007199254740992`},
		"smallest and largest double":        {`[5e-324,1.7976931348623157e308]`, `[5e-324,1.7976931348623157e+308]`},
		"short escapes":                      {`"\u0008\u0009\u000a\u000c\u000d\u0022\u005c"`, `"\b\t\n\f\r\"\\"`},
		"other controls":                     {`"\u0000\u001F\u007f"`, "\"\\u0000\\u001f\x7f\""},
		"no other escapes":                   {`"\/\u003c\u003E\u0026\u2028\u00e9"`, "\"/<>&\u2028é\""},
		"surrogate pair":                     {`"\ud83d\uDE00"`, `"😀"`},
		"no normalisation":                   {"\"A\u030a\u212b\"", "\"A\u030a\u212b\""},
		"keys after their escapes":           {`{"b":1,"\u0061":2}`, `{"a":2,"b":1}`},
		"short key first":                    {`{"ab":1,"a":2,"":3}`, `{"":3,"a":2,"ab":1}`},
		"surrogates before U+E000 to U+FFFF": {"{\"\ue000\":1,\"\U0001f600\":2,\"\ud7ff\":3}", "{\"\ud7ff\":3,\"\U0001f600\":2,\"\ue000\":1}"},
		"low surrogates decide":              {"{\"\U0001f601\":1,\"\U0001f600\":2}", "{\"\U0001f600\":2,\"\U0001f601\":1}"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			got, err := CanonicalJSON([]byte(c.in))
			require.NoError(t, err)
			require.Equal(t, c.want, string(got))
		})
	}
}

func TestCanonicalJSONRefuses(t *testing.T) {
	t.Parallel()
	for name, in := range map[string]string{
		"nothing":                       "",
		"white space only":              " \n",
		"two values":                    "1 2",
		"a byte order mark":             "\ufeff1",
		"other white space":             "\u00a01",
		"repeated keys":                 `{"a":1,"b":2,"a":1}`,
		"repeated keys, one escaped":    `{"a":1,"\u0061":2}`,
		"repeated keys further in":      `[{"x":{"a":1,"a":2}}]`,
		"a lone high surrogate":         `"\ud83d"`,
		"a lone low surrogate":          `"\ude00"`,
		"surrogates the wrong way":      `"\ude00\ud83d"`,
		"a high surrogate and a letter": `"\ud83d\u0041"`,
		"a surrogate in a key":          `{"\ud83d":1}`,
		"bytes not UTF-8":               "\"\xff\"",
		"a surrogate in UTF-8":          "\"\xed\xa0\xbd\"",
		"a bare control character":      "\"a\nb\"",
		"a bare NUL":                    "\"\x00\"",
		"an open text":                  `"abc`,
		"an open escape":                `"abc\`,
		"a short escape":                `"\u12"`,
		"an unknown escape":             `"\x41"`,
		"an open array":                 `[1,`,
		"a trailing comma":              `[1,]`,
		"a trailing comma in an object": `{"a":1,}`,
		"a missing colon":               `{"a" 1}`,
		"a key that is no text":         `{1:2}`,
		"an open object":                `{"a":1`,
		"mismatched ends":               `[1}`,
		"a leading zero":                `01`,
		"a plus sign":                   `+1`,
		"a minus alone":                 `-`,
		"a bare point":                  `1.`,
		"a bare exponent":               `1e+`,
		"hexadecimal":                   `0x10`,
		"not a number":                  `NaN`,
		"infinity":                      `Infinity`,
		"a number beyond a double":      `1e309`,
		"a word cut off":                `tru`,
		"a word too long":               `nulll`,
		"a capital":                     `True`,
		"a comment":                     `1 // one`,
		"nesting without end":           strings.Repeat("[", 1_000_000),
		"too many bytes":                `"` + strings.Repeat("a", MaxJSONSize) + `"`,
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			got, err := CanonicalJSON([]byte(in))
			require.ErrorIs(t, err, ErrJSON)
			require.Nil(t, got)
			require.Less(t, len(err.Error()), 300, "the message must not carry the input")
		})
	}
}

func TestCanonicalJSONNestsAsDeepAsItSays(t *testing.T) {
	t.Parallel()
	nested := func(n int) []byte {
		return []byte(strings.Repeat(`{"a":`, n) + "1" + strings.Repeat("}", n))
	}
	got, err := CanonicalJSON(nested(MaxJSONDepth))
	require.NoError(t, err)
	require.Equal(t, nested(MaxJSONDepth), got)
	_, err = CanonicalJSON(nested(MaxJSONDepth + 1))
	require.ErrorIs(t, err, ErrJSON)
}

func TestCanonicalTakesGoValues(t *testing.T) {
	t.Parallel()
	got, err := Canonical(struct {
		Wide  string         `json:"z"`
		Inner map[string]any `json:"a"`
	}{"<joint & bed>", map[string]any{"mm": 12, "at": json.RawMessage(` [ 1.50 ] `)}})
	require.NoError(t, err)
	require.Equal(t, `{"a":{"at":[1.5],"mm":12},"z":"<joint & bed>"}`, string(got))

	for _, v := range []any{math.NaN(), make(chan int), json.RawMessage(`{"a":1,"a":2}`), json.RawMessage(`"\ud800"`)} {
		_, err := Canonical(v)
		require.ErrorIs(t, err, ErrJSON)
	}
}

func FuzzCanonicalJSON(f *testing.F) {
	var v jcsVectors
	readVectors(f, "jcs.json", &v)
	for _, d := range v.Documents {
		f.Add([]byte(d.JSON))
	}
	for _, seed := range []string{`{"a":1,"a":2}`, `"\ud83d\ude00"`, `"\ud83d"`, `-0.0e-0`, `[1e400]`, "\"\xff\"", `{"":{"":[{}]}}`} {
		f.Add([]byte(seed))
	}
	f.Fuzz(func(t *testing.T, raw []byte) {
		once, err := CanonicalJSON(raw)
		if err != nil {
			require.ErrorIs(t, err, ErrJSON)
			return
		}
		require.True(t, json.Valid(raw), "took what is no JSON: %q", raw)
		require.True(t, json.Valid(once), "wrote what is no JSON: %q", once)
		twice, err := CanonicalJSON(once)
		require.NoError(t, err)
		require.Equal(t, string(once), string(twice))

		var before, after any
		if json.Unmarshal(raw, &before) == nil {
			require.NoError(t, json.Unmarshal(once, &after))
			require.Equal(t, before, after, "the meaning changed")
		}
	})
}
