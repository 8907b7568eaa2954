package server

import (
	"bytes"
	"context"
	"encoding/json"
	"net/http"
	"strconv"
	"strings"
	"sync"

	"github.com/danielgtaylor/huma/v2"
	"github.com/danielgtaylor/huma/v2/adapters/humagin"
	"github.com/gin-gonic/gin"
)

const apiRoot = "/api/v1"

// api is the REST interface while it is being put together: typed handlers,
// which describe themselves, and raw ones, which are described beside them.
type api struct {
	s    *Server
	huma huma.API
}

// addAPI adds the whole REST interface and its description.
func (s *Server) addAPI() {
	useProblems()
	group := s.engine.Group(apiRoot)
	group.Use(s.guardAPI, s.limitBody, s.idempotent)
	a := &api{s: s, huma: humagin.NewWithGroup(s.engine, group, apiConfig(s.opt.Version))}
	a.sites()
	a.walls()
	a.geometry()
	a.cover()
	a.photos()
	a.uploads()
	a.storage()
	a.readings()
	a.statistics()
	a.sets()
	a.fixingTests()
	a.sampling()
	a.surveys()
	a.weather()
	a.instruments()
	a.limits()
	a.snags()
	a.releases()
	a.inspectionPlan()
	a.people()
	a.log()
	s.raw(http.MethodGet, apiRoot+"/openapi.json", anyone, a.describe)
}

func apiConfig(version string) huma.Config {
	config := huma.DefaultConfig("Storeyrod", version)
	config.OpenAPIPath, config.DocsPath, config.SchemasPath, config.CreateHooks = "", "", "", nil
	config.Formats = map[string]huma.Format{"application/json": jsonFormat, "json": jsonFormat}
	config.RejectUnknownQueryParameters = true
	config.Info.Description = "The quality record of external wall insulation: photos, readings, verdicts, snags. " +
		"Decimals are strings; lengths on a wall are metres as strings with at most three places; times are RFC 3339."
	config.Servers = []*huma.Server{{URL: apiRoot}}
	config.Components.SecuritySchemes = map[string]*huma.SecurityScheme{
		"token":   {Type: "http", Scheme: "bearer", Description: "a program's token"},
		"session": {Type: "apiKey", In: "cookie", Name: "storeyrod", Description: "a person's sign-in"},
	}
	config.Security = []map[string][]string{{"token": {}}, {"session": {}}}
	return config
}

// describe answers the OpenAPI 3.1 document.
func (a *api) describe(c *gin.Context) error {
	doc, err := a.huma.OpenAPI().MarshalJSON()
	if err != nil {
		return err
	}
	c.Data(http.StatusOK, "application/openapi+json; charset=utf-8", doc)
	return nil
}

// pathContext is the key under which a typed handler finds its own address.
type pathContext struct{}

// guardAPI lets nobody past who is not signed in.
func (s *Server) guardAPI(c *gin.Context) {
	if actorOf(c).AccountID == "" {
		s.failAPI(c, errSignIn())
		return
	}
	c.Request = c.Request.WithContext(context.WithValue(c.Request.Context(), pathContext{}, c.Request.URL.Path))
}

// limitBody bounds what a request may send before anything reads it. Photos
// have their own, larger bound.
func (s *Server) limitBody(c *gin.Context) {
	limit := int64(maxTableBytes)
	if strings.HasSuffix(c.FullPath(), "/photos") || isUpload(c.FullPath()) {
		limit = s.opt.MaxPhoto + 1<<20 // the photo and its multipart frame
	}
	c.Request.Body = http.MaxBytesReader(c.Writer, c.Request.Body, limit)
}

// handle adds a typed operation. Its errors pass the one translation to
// problem documents.
func handle[I, O any](a *api, op huma.Operation, who access, h func(context.Context, *I) (*O, error)) {
	if op.OperationID == "" {
		op.OperationID = operationID(op.Method, op.Path)
	}
	op = withKey(op)
	op.MaxBodyBytes = maxTableBytes
	op.BodyReadTimeout = -1 // bodyDeadline bounds the waiting, not the whole
	a.s.routes = append(a.s.routes, route{method: op.Method, path: apiRoot + ginPath(op.Path), access: who, api: true})
	huma.Register(a.huma, op, func(ctx context.Context, in *I) (*O, error) {
		out, err := h(ctx, in)
		if err != nil {
			path, _ := ctx.Value(pathContext{}).(string)
			return nil, a.s.problem(ctx, path, versionNamed(err))
		}
		return out, nil
	})
}

// stream adds a raw operation to the table, the router and the description.
func (a *api) stream(op huma.Operation, who access, h func(*gin.Context) error) {
	op = a.described(op)
	a.huma.OpenAPI().AddOperation(&op)
	path := apiRoot + ginPath(op.Path)
	a.s.routes = append(a.s.routes, route{method: op.Method, path: path, access: who, api: true})
	a.s.engine.Handle(op.Method, path, a.s.guardAPI, a.s.limitBody, a.s.idempotent, func(c *gin.Context) {
		err := checkQuery(op, c.Request.URL.Query())
		if err == nil {
			err = h(c)
		}
		if err != nil {
			a.s.failAPI(c, err)
		}
	})
}

// ginPath turns {site} into :site.
func ginPath(path string) string {
	return strings.NewReplacer("{", ":", "}", "").Replace(path)
}

// jsonFormat decodes numbers that no float can hold as the text they came as,
// so that a value such as 1e400 is refused by name, not as broken JSON.
var jsonFormat = huma.Format{Marshal: huma.DefaultJSONFormat.Marshal, Unmarshal: unmarshalJSON}

func unmarshalJSON(data []byte, v any) error {
	target, ok := v.(*any)
	if !ok {
		return json.Unmarshal(data, v)
	}
	if err := checkJSON(data); err != nil {
		return err
	}
	dec := json.NewDecoder(bytes.NewReader(data))
	dec.UseNumber()
	if err := dec.Decode(target); err != nil {
		return err
	}
	*target = floats(*target)
	return nil
}

func floats(v any) any {
	switch v := v.(type) {
	case json.Number:
		if f, err := strconv.ParseFloat(v.String(), 64); err == nil {
			return f
		}
		return v.String()
	case []any:
		for i := range v {
			v[i] = floats(v[i])
		}
	case map[string]any:
		for k := range v {
			v[k] = floats(v[k])
		}
	}
	return v
}

// useProblems makes the typed handlers' library speak our problem documents.
// The library offers package variables for it, so they are set once.
var useProblems = sync.OnceFunc(func() {
	huma.NewError = func(status int, msg string, errs ...error) huma.StatusError {
		return libraryProblem(status, msg, errs)
	}
	huma.NewErrorWithContext = func(ctx huma.Context, status int, msg string, errs ...error) huma.StatusError {
		p := libraryProblem(status, msg, errs)
		u := ctx.URL()
		p.Instance = u.Path
		return p
	}
})

// libraryProblem words what the library refuses before a handler runs: a body
// that does not fit its schema, a bad parameter, a wrong media type.
func libraryProblem(status int, msg string, errs []error) *Problem {
	p := &Problem{Type: "about:blank", Title: http.StatusText(status), Status: status, Detail: msg, Code: libraryCode(status)}
	for _, err := range errs {
		if err == nil {
			continue
		}
		part := ProblemError{Text: err.Error(), Code: p.Code}
		if d, ok := err.(huma.ErrorDetailer); ok {
			detail := d.ErrorDetail()
			part.Text = detail.Message
			part.Field = strings.TrimPrefix(strings.TrimPrefix(detail.Location, "body."), "query.")
			if strings.HasPrefix(detail.Location, "query.") && detail.Message == "unknown query parameter" {
				part.Code = "unknown_parameter"
			}
		}
		if e := jsonRefusal(part.Text); e != nil { // the library keeps the text only
			return problemOf(e, "")
		}
		p.Errors = append(p.Errors, part)
	}
	if len(p.Errors) == 1 {
		p.Field, p.Code = p.Errors[0].Field, p.Errors[0].Code
	}
	return p
}

func libraryCode(status int) string {
	switch status {
	case http.StatusBadRequest:
		return "bad_request"
	case http.StatusUnprocessableEntity:
		return "invalid"
	case http.StatusRequestEntityTooLarge:
		return "body_too_large"
	case http.StatusUnsupportedMediaType:
		return "unsupported_type"
	case http.StatusRequestTimeout:
		return "too_slow"
	}
	return "refused"
}
