package server

import (
	"net/url"
	"reflect"
	"regexp"
	"slices"
	"strings"

	"github.com/danielgtaylor/huma/v2"

	"storeyrod/defects"
)

// pathWord finds the parameters of a path such as /sites/{site}.
var pathWord = regexp.MustCompile(`\{([a-z_]+)\}`)

// described completes the description of a raw operation: its id, the
// parameters of its path, and what every operation may answer.
func (a *api) described(op huma.Operation) huma.Operation {
	op.OperationID = operationID(op.Method, op.Path)
	for _, m := range pathWord.FindAllStringSubmatch(op.Path, -1) {
		op.Parameters = append(op.Parameters, &huma.Param{
			Name: m[1], In: "path", Required: true, Schema: &huma.Schema{Type: huma.TypeString},
		})
	}
	if op.Responses == nil {
		op.Responses = map[string]*huma.Response{}
	}
	op.Responses["default"] = &huma.Response{Description: "a refusal", Content: map[string]*huma.MediaType{
		problemType: {Schema: a.huma.OpenAPI().Components.Schemas.Schema(problemReflect, true, "Problem")},
	}}
	return withKey(op)
}

func operationID(method, path string) string {
	words := strings.NewReplacer("/", "-", "{", "by-", "}", "", "_", "-").Replace(strings.Trim(path, "/"))
	return strings.ToLower(method) + "-" + words
}

// withKey declares the header that makes a write repeatable.
func withKey(op huma.Operation) huma.Operation {
	if safe(op.Method) || !takesKey(op.Path) || strings.HasSuffix(op.Path, "/me/tokens") {
		return op
	}
	most := 200
	op.Parameters = append(op.Parameters, &huma.Param{
		Name: keyHeader, In: "header",
		Description: "your own word for this request: sent again with it within a day, it is answered as the first time and done once",
		Schema:      &huma.Schema{Type: huma.TypeString, MaxLength: &most},
	})
	return op
}

// schemaOf is the schema of a body that a raw operation decodes itself.
func schemaOf[T any](a *api) *huma.Schema {
	t := reflect.TypeFor[T]()
	return a.huma.OpenAPI().Components.Schemas.Schema(t, true, t.Name())
}

// withParams declares query parameters as "name: what it is"; one that ends in
// "?" is true or false.
func withParams(op huma.Operation, params ...string) huma.Operation {
	for _, p := range params {
		name, doc, _ := strings.Cut(p, ": ")
		schema := &huma.Schema{Type: huma.TypeString}
		if flag, ok := strings.CutSuffix(name, "?"); ok {
			name, schema = flag, &huma.Schema{Type: huma.TypeBoolean}
		}
		op.Parameters = append(op.Parameters, &huma.Param{Name: name, In: "query", Description: doc, Schema: schema})
	}
	return op
}

// checkQuery refuses parameters that the operation does not know, and flags that
// are neither true nor false: a filter never fails silently.
func checkQuery(op huma.Operation, q url.Values) error {
	for name := range q {
		i := slices.IndexFunc(op.Parameters, func(p *huma.Param) bool { return p.In == "query" && p.Name == name })
		if i < 0 {
			return defects.RefuseField(defects.Invalid, name, "unknown_parameter", "no such parameter here")
		}
		if op.Parameters[i].Schema.Type == huma.TypeBoolean {
			if _, err := trueOrFalse(name, q.Get(name)); err != nil {
				return err
			}
		}
	}
	return nil
}

// trueOrFalse reads a flag; nothing is false.
func trueOrFalse(name, text string) (bool, error) {
	switch text {
	case "true":
		return true, nil
	case "", "false":
		return false, nil
	}
	return false, defects.RefuseField(defects.Invalid, name, "bad_flag", "write true or false")
}

// bodySchema describes a body by its type, where nothing closer is said.
func bodySchema(kind string) *huma.Schema {
	text, binary := huma.TypeString, &huma.Schema{Type: huma.TypeString, Format: "binary", Description: "the photo's bytes as the camera made them"}
	switch kind {
	case "text/csv":
		return &huma.Schema{Type: text, Description: "a header and one reading a line; columns: quantity, value, unit and any others of a reading"}
	case "application/json":
		return &huma.Schema{Type: huma.TypeObject, Description: "the document as it is answered by the GET of the same address"}
	case geoJSON:
		return &huma.Schema{
			Type: huma.TypeObject, Required: []string{"type", "features"}, Description: "a FeatureCollection of Polygons (RFC 7946)",
			Properties: map[string]*huma.Schema{
				"type": {Type: text, Enum: []any{"FeatureCollection"}},
				"features": {Type: huma.TypeArray, Items: &huma.Schema{
					Type: huma.TypeObject, Description: "properties: building, its name; height_m when it is known",
				}},
			},
		}
	case "multipart/form-data":
		form := &huma.Schema{Type: huma.TypeObject, Required: []string{"file"}, Properties: map[string]*huma.Schema{"file": binary}}
		for _, name := range photoFields {
			form.Properties[name] = &huma.Schema{Type: text}
		}
		return form
	}
	return binary
}

// listParameters describes what a snag list is asked for with and answers.
func listParameters(op huma.Operation) huma.Operation {
	op = withParams(op, "format: json, csv or geojson", "all?: closed ones too", "overdue?: only those whose date is past")
	for _, name := range filterNames() {
		if name != "overdue" {
			op = withParams(op, name+": only these")
		}
	}
	return withAnswer(op, "200", "application/json", "text/csv", geoJSON)
}
