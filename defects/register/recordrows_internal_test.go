package register

import (
	"bytes"
	"errors"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
)

func sampleTable() Table {
	return Table{Name: "things", Site: 1, Columns: []Column{
		{Name: "id", Kind: TextColumn},
		{Name: "site_id", Kind: TextColumn, Null: true},
		{Name: "n", Kind: WholeColumn},
		{Name: "yes", Kind: TruthColumn},
		{Name: "body", Kind: BytesColumn},
	}}
}

func TestRowsComeBackAsTheyWere(t *testing.T) {
	t.Parallel()
	for _, row := range []Row{
		{"a", "s", int64(1), int64(0), []byte("plain")},
		{"<é\u2028\"\\\n", nil, int64(-1 << 63), int64(1), []byte{0xff, 0x00}},
		{"", "", int64(1<<63 - 1), int64(1), []byte{}},
	} {
		var line bytes.Buffer
		require.NoError(t, encodeRow(&line, sampleTable(), row))
		require.Equal(t, 1, strings.Count(line.String(), "\n"))
		got, err := decodeRow(bytes.TrimSuffix(line.Bytes(), []byte("\n")), sampleTable())
		require.NoError(t, err)
		require.Equal(t, row, got)
	}
	require.Error(t, encodeRow(&bytes.Buffer{}, sampleTable(), Row{"\xff", nil, int64(1), int64(1), []byte{}}), "not UTF-8")
}

func TestOtherRowsAreRefused(t *testing.T) {
	t.Parallel()
	for line, code := range map[string]string{
		`{"id":"a","site_id":"s","n":1,"yes":0,"body":"x","more":1}`:         "unknown_column",
		`{"id":"a","evil":"s","n":1,"yes":0,"body":"x"}`:                     "unknown_column",
		`{"id":"a","site_id":"s","n":1,"yes":0}`:                             "missing_column",
		`{"site_id":"s","id":"a","n":1,"yes":0,"body":"x"}`:                  "bad_row",
		`{"id":"a","id":"a","n":1,"yes":0,"body":"x"}`:                       "bad_row",
		`{"id":"a","site_id":"s","n":1.5,"yes":0,"body":"x"}`:                "bad_value",
		`{"id":"a","site_id":"s","n":9223372036854775808,"yes":0,"body":""}`: "bad_value",
		`{"id":"a","site_id":"s","n":1,"yes":2,"body":"x"}`:                  "bad_value",
		`{"id":"a","site_id":"s","n":1,"yes":true,"body":"x"}`:               "bad_value",
		`{"id":null,"site_id":"s","n":1,"yes":0,"body":"x"}`:                 "bad_value",
		`{"id":["a"],"site_id":"s","n":1,"yes":0,"body":"x"}`:                "bad_value",
		`{"id":"a","site_id":"s","n":1,"yes":0,"body":{"base64":"!"}}`:       "bad_value",
		`{"id":"a","site_id":"s","n":1,"yes":0,"body":{"base64":"eA=="}}`:    "bad_row", // it is text
		`{"id":"a", "site_id":"s","n":1,"yes":0,"body":"x"}`:                 "bad_row",
		`{"id":"a","site_id":"s","n":1,"yes":0,"body":"x"} `:                 "bad_row",
		`{"id":"a","site_id":"s","n":01,"yes":0,"body":"x"}`:                 "bad_row",
		`{"id":"\u0061","site_id":"s","n":1,"yes":0,"body":"x"}`:             "bad_row",
		`[]`: "bad_row",
		``:   "bad_row",
	} {
		_, err := decodeRow([]byte(line), sampleTable())
		e := (*defects.Error)(nil)
		require.ErrorAs(t, err, &e, line)
		require.Equal(t, code, e.Code, line)
	}
}

func TestLinesAreBoundedAndEnded(t *testing.T) {
	t.Parallel()
	var seen []string
	keep := func(_ int, line []byte) error { seen = append(seen, string(line)); return nil }
	require.NoError(t, eachLine(strings.NewReader("a\n\nb\r\n"), keep))
	require.Equal(t, []string{"a", "", "b\r"}, seen)
	for text, code := range map[string]string{
		"a\nb": "bad_row",
		"a\n" + strings.Repeat("x", maxRecordLine+1): "line_too_long",
	} {
		e := (*defects.Error)(nil)
		require.ErrorAs(t, eachLine(strings.NewReader(text), keep), &e)
		require.Equal(t, code, e.Code)
	}
	stop := errors.New("stop")
	require.ErrorIs(t, eachLine(strings.NewReader("a\nb\n"), func(int, []byte) error { return stop }), stop)
}

func FuzzDecodeRow(f *testing.F) {
	f.Add([]byte(`{"id":"a","site_id":null,"n":1,"yes":0,"body":{"base64":"/w=="}}`))
	f.Add([]byte(`{"id":"a","site_id":"s","n":-1,"yes":1,"body":"x"}`))
	f.Fuzz(func(t *testing.T, line []byte) {
		row, err := decodeRow(line, sampleTable())
		if err != nil {
			return
		}
		var again bytes.Buffer
		require.NoError(t, encodeRow(&again, sampleTable(), row))
		require.Equal(t, string(line)+"\n", again.String())
	})
}
