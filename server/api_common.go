package server

import (
	"encoding/json"
	"fmt"
	"net/url"
	"reflect"
	"strconv"
	"strings"
	"time"

	"github.com/danielgtaylor/huma/v2"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

var problemReflect = reflect.TypeFor[Problem]()

// Exact is a decimal as it came: a JSON string, or a JSON number taken by its
// text, never through a float.
type Exact string

// UnmarshalJSON keeps the text of a string or a number.
func (e *Exact) UnmarshalJSON(data []byte) error {
	if len(data) > 0 && data[0] == '"' {
		var s string
		if err := json.Unmarshal(data, &s); err != nil {
			return err
		}
		*e = Exact(s)
		return nil
	}
	*e = Exact(data)
	return nil
}

// Schema describes it for OpenAPI.
func (Exact) Schema(huma.Registry) *huma.Schema {
	return &huma.Schema{
		Description: "exact decimal, as a string such as \"12.50\"; a number is taken by its text",
		Examples:    []any{"12.50"},
	}
}

// decimal reads an optional exact decimal; empty and null give nil.
func (e Exact) decimal(field string) (*defects.Decimal, error) {
	if e == "" || e == "null" {
		return nil, nil
	}
	d, err := defects.ParseDecimal(string(e))
	if err != nil {
		return nil, named(err, field)
	}
	return &d, nil
}

// text gives the decimal's text, empty for null.
func (e Exact) text() string {
	if e == "null" {
		return ""
	}
	return string(e)
}

// mm reads metres into millimetres.
func (e Exact) mm(field string) (*defects.MM, error) {
	d, err := e.decimal(field)
	if d == nil || err != nil {
		return nil, err
	}
	m, err := defects.MMFromMetres(*d)
	if err != nil {
		return nil, named(err, field)
	}
	return &m, nil
}

// named puts the field's name on a refusal that has none.
func named(err error, field string) error {
	e, ok := err.(*defects.Error) //nolint:errorlint // made by the call above, never wrapped
	if !ok || e.Field != "" {
		return err
	}
	with := *e
	with.Field = field
	return &with
}

func exactOf(d *defects.Decimal) *Exact {
	if d == nil {
		return nil
	}
	e := Exact(d.String())
	return &e
}

func exactMM(m *defects.MM) *Exact {
	if m == nil {
		return nil
	}
	e := Exact(m.Metres().String())
	return &e
}

func mmText(m defects.MM) Exact { return Exact(m.Metres().String()) }

// etag is the entity tag of a version.
func etag(version int) string { return `"v` + strconv.Itoa(version) + `"` }

// ifMatch reads the version a writer saw. Nothing stated is 0, which the
// register refuses as version_needed; "*" is not taken, since it would pass by
// the guard.
func ifMatch(header string) (int, error) {
	if header == "" {
		return 0, nil
	}
	text, ok := strings.CutPrefix(strings.Trim(header, `"`), "v")
	n, err := strconv.Atoi(text)
	if !ok || err != nil || n < 1 {
		return 0, defects.RefuseField(defects.Invalid, "If-Match", "bad_etag", "send the ETag that you were given")
	}
	return n, nil
}

// Paging is how a list is asked for.
type Paging struct {
	Limit int    `query:"limit" minimum:"1" maximum:"500" default:"50"`
	After string `query:"after" doc:"cursor from the Link header of the page before"`
}

func (p Paging) page() register.Page { return register.Page{Limit: p.Limit, After: p.After} }

// nextLink is the RFC 8288 link to the following page, empty on the last one.
func nextLink(path string, query url.Values, next string) string {
	if next == "" {
		return ""
	}
	query.Set("after", next)
	return fmt.Sprintf("<%s%s?%s>; rel=\"next\"", apiRoot, path, query.Encode())
}

// query collects the parameters of a list that are set.
func query(pairs ...string) url.Values {
	v := url.Values{}
	for i := 0; i+1 < len(pairs); i += 2 {
		if pairs[i+1] != "" {
			v.Set(pairs[i], pairs[i+1])
		}
	}
	return v
}

func (p Paging) limit() string { return strconv.Itoa(p.Limit) }

// stamp prints an instant, empty when there is none.
func stamp(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.UTC().Format(time.RFC3339Nano)
}

// SiteIn is the path of everything on a site.
type SiteIn struct {
	Site string `path:"site" doc:"site id"`
}

// Changed is what a guarded write is sent with.
type Changed struct {
	IfMatch string `header:"If-Match" doc:"the ETag last seen"`
}

// list splits a comma-separated parameter into typed words.
func list[T ~string](text string) []T {
	var out []T
	for word := range strings.SplitSeq(text, ",") {
		if word = strings.TrimSpace(word); word != "" {
			out = append(out, T(word))
		}
	}
	return out
}

// each converts a list, never giving null.
func each[A, B any](in []A, f func(A) B) []B {
	out := make([]B, 0, len(in))
	for _, a := range in {
		out = append(out, f(a))
	}
	return out
}

func get(path, summary string) huma.Operation {
	return huma.Operation{Method: "GET", Path: path, Summary: summary, Tags: []string{tagOf(path)}}
}

func post(path, summary string) huma.Operation {
	return huma.Operation{Method: "POST", Path: path, Summary: summary, Tags: []string{tagOf(path)}}
}

func patch(path, summary string) huma.Operation {
	return huma.Operation{Method: "PATCH", Path: path, Summary: summary, Tags: []string{tagOf(path)}}
}

func put(path, summary string) huma.Operation {
	return huma.Operation{Method: "PUT", Path: path, Summary: summary, Tags: []string{tagOf(path)}}
}

// tagOf groups operations by the noun in their path.
func tagOf(path string) string {
	parts := strings.Split(strings.Trim(path, "/"), "/")
	if len(parts) > 2 {
		return parts[2]
	}
	return parts[0]
}
