package server

import (
	"encoding/json"
	"net/http/httptest"
	"testing"

	"github.com/stretchr/testify/require"
)

// The parsers of the headers of uploads.
var (
	ParseMetadata = parseMetadata
	ParseChecksum = parseChecksum
)

// Fingerprint is how a request with a JSON body is told from others.
func Fingerprint(t *testing.T, method, path string, v any) string {
	t.Helper()
	body, err := json.Marshal(v)
	require.NoError(t, err)
	return fingerprint(httptest.NewRequest(method, path, nil), body)
}

// TableLine is one line of the URL table, for the tests that walk it.
type TableLine struct {
	Method, Path, Permission string
	Public, Admin, API       bool
}

// Table is the whole URL table.
func (s *Server) Table() []TableLine {
	var out []TableLine
	for _, r := range s.routes {
		out = append(out, TableLine{
			Method: r.method, Path: r.path, Permission: string(r.access.permission),
			Public: r.access.public, Admin: r.access.admin, API: r.api,
		})
	}
	return out
}
