package server

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
