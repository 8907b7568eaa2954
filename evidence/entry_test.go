package evidence

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"flag"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

var update = flag.Bool("update", false, "write the golden files anew")

// offered is an entry of an invented site.
func offered(t testing.TB) Entry {
	t.Helper()
	data, err := EncodeData(map[string]any{
		"x_mm":     12_450,
		"y_mm":     -300,
		"joint_mm": "9.5",
		"note":     "raked out & repointed <bay 3> – Façade 🧱",
		"photos":   []string{strings.Repeat("ab", 32)},
		"proven":   true,
		"due":      nil,
	})
	require.NoError(t, err)
	return Entry{
		Version: EntryVersion,
		Site:    "demo-site",
		Seq:     7,
		At:      time.Date(2026, 3, 4, 9, 15, 0, 120_000, time.UTC),
		Actor:   Actor{ID: "acc-2", Name: "Demo Installer", Role: "installer", Device: "demo phone"},
		Kind:    "snag.offered",
		Subject: Subject{Type: "snag", ID: "snag-31", Number: 31},
		Data:    data,
	}
}

func TestEncodeGivesTheGoldenBytes(t *testing.T) {
	t.Parallel()
	bare := Entry{
		Version: EntryVersion, Site: "demo-site", Seq: 1, At: time.Unix(0, 0).UTC(),
		Actor: Actor{ID: "acc-1"}, Kind: "site.opened", Subject: Subject{Type: "site", ID: "demo-site"},
	}
	for file, e := range map[string]Entry{"entry-full.json": offered(t), "entry-bare.json": bare} {
		got, err := Encode(e)
		require.NoError(t, err)
		path := "testdata/" + file
		if *update {
			require.NoError(t, os.WriteFile(path, got, 0o600))
		}
		want, err := os.ReadFile(path)
		require.NoError(t, err)
		require.Equal(t, string(want), string(got))

		back, err := Decode(want)
		require.NoError(t, err)
		require.Equal(t, e, back)
	}
}

func TestEncodeBringsTimeAndDataIntoTheirOneForm(t *testing.T) {
	t.Parallel()
	e := offered(t)
	want, err := Encode(e)
	require.NoError(t, err)

	e.At = e.At.Add(999).In(time.FixedZone("two hours east", 7200))
	e.Data = json.RawMessage(strings.Replace(string(e.Data), `{"due":null,`, "{ ", 1))
	e.Data = json.RawMessage(strings.TrimSuffix(string(e.Data), "}") + ", \"due\" : null}\n")
	got, err := Encode(e)
	require.NoError(t, err)
	require.Equal(t, string(want), string(got))
}

func TestEncodeRefuses(t *testing.T) {
	t.Parallel()
	for name, change := range map[string]func(*Entry){
		"another version":        func(e *Entry) { e.Version = 2 },
		"no site":                func(e *Entry) { e.Site = "" },
		"number zero":            func(e *Entry) { e.Seq = 0 },
		"a number beyond 2^53":   func(e *Entry) { e.Seq = maxWhole + 1 },
		"no time":                func(e *Entry) { e.At = time.Time{} },
		"a year of five digits":  func(e *Entry) { e.At = time.Date(10000, 1, 1, 0, 0, 0, 0, time.UTC) },
		"nobody":                 func(e *Entry) { e.Actor.ID = "" },
		"a name not UTF-8":       func(e *Entry) { e.Actor.Name = "\xff" },
		"no kind":                func(e *Entry) { e.Kind = "" },
		"a kind with a capital":  func(e *Entry) { e.Kind = "Snag.offered" },
		"a kind ending in a dot": func(e *Entry) { e.Kind = "snag." },
		"a kind with two dots":   func(e *Entry) { e.Kind = "snag..offered" },
		"a kind from a digit":    func(e *Entry) { e.Kind = "snag.2nd" },
		"a long kind":            func(e *Entry) { e.Kind = strings.Repeat("k", 65) },
		"no subject type":        func(e *Entry) { e.Subject.Type = "" },
		"no subject":             func(e *Entry) { e.Subject.ID = "" },
		"a negative number":      func(e *Entry) { e.Subject.Number = -1 },
		"an entry too large":     func(e *Entry) { e.Actor.Device = strings.Repeat("d", MaxEntrySize) },
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			e := offered(t)
			change(&e)
			_, err := Encode(e)
			require.ErrorIs(t, err, ErrEntry)
		})
	}
}

func TestEncodeRefusesDataWithoutACanonicalForm(t *testing.T) {
	t.Parallel()
	for _, data := range []string{`{`, `[]`, `1`, `null`, `"text"`, `{"a":1.5}`, `{"a":1.0}`, `{"a":1e2}`, `{"a":1,"a":1}`, `{"a":"\ud800"}`} {
		e := offered(t)
		e.Data = json.RawMessage(data)
		_, err := Encode(e)
		require.ErrorIs(t, err, ErrJSON, data)
	}
}

func TestEncodeData(t *testing.T) {
	t.Parallel()
	type reading struct {
		Value string `json:"value"`
		MM    int    `json:"mm"`
	}
	for _, c := range []struct {
		in   any
		want string
	}{
		{reading{"0.30", 4}, `{"mm":4,"value":"0.30"}`},
		{map[string]any{"n": int64(maxWhole), "m": int64(-maxWhole)}, `{"m":-9007199254740992,"n":9007199254740992}`},
		{map[string]float64{"whole": 3}, `{"whole":3}`},
		{struct{}{}, `{}`},
		{nil, ""},
		{(*reading)(nil), ""},
	} {
		got, err := EncodeData(c.in)
		require.NoError(t, err)
		require.Equal(t, c.want, string(got))
	}
	for _, v := range []any{
		map[string]any{"mm": 9.5},
		map[string]any{"deep": []any{map[string]float64{"mm": 1e-3}}},
		map[string]any{"large": float64(1e21)},
		map[string]any{"n": int64(maxWhole + 1)},
		map[string]any{"n": int64(-maxWhole - 1)},
		map[string]any{"n": uint64(1 << 63)},
		[]int{1},
		"text",
		make(chan int),
	} {
		_, err := EncodeData(v)
		require.ErrorIs(t, err, ErrJSON, "%v", v)
	}
}

func TestDecodeTakesOneFormOnly(t *testing.T) {
	t.Parallel()
	encoded, err := Encode(offered(t))
	require.NoError(t, err)
	good := string(encoded)
	_, err = Decode(encoded)
	require.NoError(t, err)
	for name, bad := range map[string]string{
		"nothing":             "",
		"a space":             good + " ",
		"a line end":          good + "\n",
		"an unknown key":      strings.Replace(good, `"kind"`, `"extra":1,"kind"`, 1),
		"an unknown key last": strings.TrimSuffix(good, "}") + `,"z":1}`,
		"a repeated key":      strings.Replace(good, `"seq":7`, `"seq":7,"seq":7`, 1),
		"a key in capitals":   strings.Replace(good, `"seq"`, `"SEQ"`, 1),
		"another key order":   strings.Replace(good, `"id":"snag-31","number":31`, `"number":31,"id":"snag-31"`, 1),
		"a needless escape":   strings.Replace(good, "demo-site", `demo\u002dsite`, 1),
		"another version":     strings.Replace(good, `"v":1`, `"v":2`, 1),
		"no version":          strings.Replace(good, `,"v":1`, ``, 1),
		"a text for a number": strings.Replace(good, `"seq":7`, `"seq":"7"`, 1),
		"a fraction":          strings.Replace(good, `"x_mm":12450`, `"x_mm":12450.5`, 1),
		"a zero number":       strings.Replace(good, `"number":31`, `"number":0`, 1),
		"data null":           strings.Replace(good, good[strings.Index(good, `"data":{`):strings.Index(good, `,"kind"`)], `"data":null`, 1),
		"fewer decimals":      strings.Replace(good, `.000120Z`, `.00012Z`, 1),
		"more decimals":       strings.Replace(good, `.000120Z`, `.0001200Z`, 1),
		"a comma in the time": strings.Replace(good, `.000120Z`, `,000120Z`, 1),
		"another zone":        strings.Replace(good, `.000120Z`, `.000120+00:00`, 1),
		"an impossible day":   strings.Replace(good, `2026-03-04`, `2026-02-30`, 1),
		"bytes not UTF-8":     strings.Replace(good, "demo phone", "demo \xff", 1),
		"a lone surrogate":    strings.Replace(good, "demo phone", `demo \ud800`, 1),
		"repeated in data":    strings.Replace(good, `"due":null`, `"due":1,"due":null`, 1),
		"cut off":             good[:len(good)-1],
		"an array":            "[" + good + "]",
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			require.NotEqual(t, good, bad, "the case changes nothing")
			_, err := Decode([]byte(bad))
			require.Error(t, err)
		})
	}
	_, err = Decode(make([]byte, MaxEntrySize+1))
	require.ErrorIs(t, err, ErrEntry)
}

func FuzzDecode(f *testing.F) {
	full, err := Encode(offered(f))
	require.NoError(f, err)
	bare, err := os.ReadFile("testdata/entry-bare.json")
	require.NoError(f, err)
	f.Add(full)
	f.Add(bare)
	f.Add([]byte(strings.Replace(string(bare), `,"kind"`, `,"data":{"a":[1,{}]},"kind"`, 1)))
	f.Add([]byte(`{"v":1}`))
	f.Fuzz(func(t *testing.T, raw []byte) {
		e, err := Decode(raw)
		if err != nil {
			return
		}
		again, err := Encode(e)
		require.NoError(t, err)
		require.Equal(t, string(raw), string(again))
		require.Equal(t, time.UTC, e.At.Location())
	})
}

// merkleVectors is the shape of testdata/merkle-leaves.json, which names its
// sources.
type merkleVectors struct {
	Leaves []struct {
		ID       string
		LeafHex  string `json:"leaf_hex"`
		Expected string
	}
	Pair struct {
		LeavesHex []string `json:"leaves_hex"`
		Expected  string
	}
}

func TestLeafHashGivesThePublishedHashes(t *testing.T) {
	t.Parallel()
	var v merkleVectors
	readVectors(t, "merkle-leaves.json", &v)
	leaf := func(text string) string {
		raw, err := hex.DecodeString(text)
		require.NoError(t, err)
		sum := LeafHash(raw)
		return string(sum[:])
	}
	require.Len(t, v.Leaves, 3)
	for _, l := range v.Leaves {
		require.Equal(t, l.Expected, hex.EncodeToString([]byte(leaf(l.LeafHex))), l.ID)
	}
	require.Len(t, v.Pair.LeavesHex, 2)
	root := sha256.Sum256([]byte("\x01" + leaf(v.Pair.LeavesHex[0]) + leaf(v.Pair.LeavesHex[1])))
	require.Equal(t, v.Pair.Expected, hex.EncodeToString(root[:]))
}

func TestLeafHashDoesNotTouchTheEntry(t *testing.T) {
	t.Parallel()
	buffer := []byte("entry and more")
	LeafHash(buffer[:5])
	require.Equal(t, "entry and more", string(buffer))
}
