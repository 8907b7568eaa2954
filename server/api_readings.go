package server

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"io"
	"mime"
	"net/http"
	"strconv"
	"strings"

	"github.com/danielgtaylor/huma/v2"
	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

const maxBatch = 10_000 // readings in one request

// ReadingIn is the path of one reading.
type ReadingIn struct {
	SiteIn
	ID string `path:"reading"`
}

type readingOut struct {
	ETag string `header:"ETag"`
	Body Reading
}

type readingsIn struct {
	SiteIn
	Paging
	Elevation  string `query:"elevation" doc:"elevation id"`
	Quantity   string `query:"quantity"`
	Stage      string `query:"stage"`
	Set        string `query:"set"`
	Outcome    string `query:"outcome" doc:"pass, conditional-pass, conditional-fail, fail or none"`
	Gang       string `query:"gang"`
	Unanswered bool   `query:"unanswered" doc:"beyond or too near the limit, and no snag raised"`
}

type readingsOut struct {
	Link string `header:"Link"`
	Body struct {
		Items []Reading `json:"items"`
	}
}

type reasonIn struct {
	ReadingIn
	Changed
	Body struct {
		Reason string `json:"reason"`
	}
}

// TakenReadings says what became of a batch.
type TakenReadings struct {
	Taken   int             `json:"taken"`
	Known   int             `json:"known" doc:"sent before; nothing was written"`
	Refused int             `json:"refused"`
	Results []ReadingResult `json:"results"`
}

type followUpsIn struct {
	SiteIn
	Elevation string `query:"elevation" doc:"elevation id; all when absent"`
}

type followUpsOut struct {
	Body struct {
		Items []FollowUp `json:"items"`
	}
}

func (a *api) readings() {
	reg := a.s.reg
	add := withBody(post("/sites/{site}/readings", "Add readings: one object answers 201 with its verdict or a problem; "+
		"an array or a table answers 200 with what became of each"), "application/json", "text/csv")
	one := schemaOf[NewReading](a)
	add.RequestBody.Content["application/json"].Schema = &huma.Schema{
		OneOf: []*huma.Schema{one, {Type: huma.TypeArray, Items: one}},
	}
	a.stream(withAnswer(add, "201", "application/json"), may(defects.AddReading), a.postReadings)
	handle(a, get("/sites/{site}/readings", "Readings, the newest measured first"), may(defects.ViewSite), a.listReadings)
	handle(a, get("/sites/{site}/readings/{reading}", "One reading"), may(defects.ViewSite), func(ctx context.Context, in *ReadingIn) (*readingOut, error) {
		r, err := reg.Reading(ctx, actorFrom(ctx), in.Site, in.ID)
		return &readingOut{ETag: etag(r.Version), Body: readingOf(r)}, err
	})
	handle(a, post("/sites/{site}/readings/{reading}/withdraw", "Withdraw a reading; it stays on the record with the reason"),
		may(defects.WithdrawReading), a.reasoned(reg.WithdrawReading)) // or whoever measured it
	handle(a, post("/sites/{site}/readings/{reading}/rejudge", "Judge a reading again under the schedules in force; the old verdict stays in the log"),
		may(defects.SetLimits), a.reasoned(reg.Rejudge))
	handle(a, get("/sites/{site}/follow-ups", "What readings and patterns ask for next"), may(defects.ViewSite),
		func(ctx context.Context, in *followUpsIn) (*followUpsOut, error) {
			if err := a.s.elevationFilter(ctx, actorFrom(ctx), in.Site, in.Elevation); err != nil {
				return nil, err
			}
			list, err := reg.FollowUps(ctx, actorFrom(ctx), in.Site, in.Elevation)
			out := &followUpsOut{}
			out.Body.Items = each(list, followUpOf)
			return out, err
		})
}

// reasoned is a guarded write on a reading that needs only a reason.
func (a *api) reasoned(do func(context.Context, register.Actor, string, string, int, string) (defects.Reading, error)) func(context.Context, *reasonIn) (*readingOut, error) {
	return func(ctx context.Context, in *reasonIn) (*readingOut, error) {
		version, err := ifMatch(in.IfMatch)
		if err != nil {
			return nil, err
		}
		r, err := do(ctx, actorFrom(ctx), in.Site, in.ID, version, in.Body.Reason)
		return &readingOut{ETag: etag(r.Version), Body: readingOf(r)}, err
	}
}

func (a *api) listReadings(ctx context.Context, in *readingsIn) (*readingsOut, error) {
	if err := errors.Join(stageFilter(in.Stage), outcomeFilter(in.Outcome)); err != nil {
		return nil, err
	}
	if err := a.s.elevationFilter(ctx, actorFrom(ctx), in.Site, in.Elevation); err != nil {
		return nil, err
	}
	page, err := a.s.reg.ListReadings(ctx, actorFrom(ctx), register.ReadingFilter{
		SiteID: in.Site, ElevationID: in.Elevation,
		Quantity: in.Quantity, Stage: in.Stage, SetID: in.Set, Outcome: defects.Outcome(in.Outcome), Gang: in.Gang,
		Unanswered: in.Unanswered,
	}, in.page())
	if err != nil {
		return nil, err
	}
	unanswered := ""
	if in.Unanswered {
		unanswered = "true"
	}
	out := &readingsOut{Link: nextLink("/sites/"+in.Site+"/readings", query("limit", in.limit(), "elevation", in.Elevation,
		"quantity", in.Quantity, "stage", in.Stage, "set", in.Set, "outcome", in.Outcome, "gang", in.Gang,
		"unanswered", unanswered), page.Next)}
	out.Body.Items = each(page.Items, readingOf)
	return out, nil
}

// postReadings takes one reading, an array of them, or a table.
func (a *api) postReadings(c *gin.Context) error {
	kind, _, _ := mime.ParseMediaType(c.GetHeader("Content-Type"))
	switch kind {
	case "text/csv":
		inputs, refused, err := register.ParseReadingsCSV(c.Request.Body, maxTableBytes)
		if err != nil {
			return err
		}
		return a.addBatch(c, inputs, refused)
	case "application/json":
		return a.postReadingsJSON(c)
	}
	return defects.RefuseField(defects.UnsupportedType, "Content-Type", "unsupported_type", "send application/json or text/csv")
}

func (a *api) postReadingsJSON(c *gin.Context) error {
	body, err := io.ReadAll(c.Request.Body)
	if err != nil {
		return err
	}
	if trimmed := bytes.TrimLeft(body, " \t\r\n"); len(trimmed) > 0 && trimmed[0] == '[' {
		var many []NewReading
		if err := strictJSON(body, &many); err != nil {
			return err
		}
		inputs := make([]register.ReadingInput, 0, len(many))
		for i, n := range many {
			inputs = append(inputs, n.input(i+1))
		}
		return a.addBatch(c, inputs, nil)
	}
	var one NewReading
	if err := strictJSON(body, &one); err != nil {
		return err
	}
	result, err := a.s.reg.AddReading(c.Request.Context(), actorOf(c), c.Param("site"), one.input(0))
	if err != nil {
		return err
	}
	if result.Err != nil {
		return result.Err
	}
	c.Header("Location", apiRoot+"/sites/"+c.Param("site")+"/readings/"+result.Reading.ID)
	c.Header("ETag", etag(result.Reading.Version))
	status := http.StatusCreated
	if result.Known {
		status = http.StatusOK
	}
	c.JSON(status, resultOf(result))
	return nil
}

// addBatch adds what could be read and tells what became of every row.
func (a *api) addBatch(c *gin.Context, inputs []register.ReadingInput, refused []register.Refusal) error {
	if len(inputs) > maxBatch {
		return defects.Refuse(defects.TooLarge, "too_many_rows", "at most 10 000 readings at once")
	}
	results, err := a.s.reg.AddReadings(c.Request.Context(), actorOf(c), c.Param("site"), inputs)
	if err != nil {
		return err
	}
	out := TakenReadings{Results: each(results, resultOf)}
	for _, r := range refused {
		p := problemOf(r.Err, "")
		p.Instance = r.Item
		row, _ := strconv.Atoi(strings.TrimPrefix(r.Item, "row ")) // "row 7"
		out.Results = append(out.Results, ReadingResult{Row: row, Problem: p})
	}
	for _, r := range out.Results {
		switch {
		case r.Problem != nil:
			out.Refused++
		case r.Known:
			out.Known++
		default:
			out.Taken++
		}
	}
	c.JSON(http.StatusOK, out)
	return nil
}

// strictJSON reads one JSON value, refusing fields it does not know and
// anything after it.
func strictJSON(body []byte, to any) error {
	if err := checkJSON(body); err != nil {
		return err
	}
	dec := json.NewDecoder(bytes.NewReader(body))
	dec.DisallowUnknownFields()
	err := dec.Decode(to)
	if err == nil && dec.More() {
		err = errors.New("more than one value")
	}
	if err == nil {
		return nil
	}
	var typ *json.UnmarshalTypeError
	if errors.As(err, &typ) {
		return defects.RefuseField(defects.Invalid, typ.Field, "bad_type", "is not of the kind expected: "+typ.Value)
	}
	return &defects.Error{Kind: defects.Invalid, Code: "bad_json", Text: "the body is not the JSON expected: " + err.Error(), Err: err}
}
