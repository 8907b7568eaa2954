package server

import (
	"context"
	"crypto/sha256"
	"encoding/base64"
	"errors"
	"io"
	"mime"
	"net/http"

	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/report"
)

// maxSurveyBody bounds a survey that is sent as JSON: its offsets may take more
// room there than as a table.
const maxSurveyBody = 3 * defects.MaxSurveyBytes

// SurveyIn is the path of one survey.
type SurveyIn struct {
	SiteIn
	ID string `path:"survey"`
}

type oneSurveyIn struct {
	SurveyIn
	Target  string `query:"target" enum:"plumb,best-fit" doc:"of packing or dubbing-out; plumb when absent"`
	CutBack string `query:"cut_back_mm" doc:"what may be cut back; 0 when absent"`
}

type surveysIn struct {
	SiteIn
	Paging
	Elevation string `query:"elevation" doc:"elevation id"`
	Stage     string `query:"stage"`
}

type surveyOut struct {
	ETag string `header:"ETag"`
	Body Survey
}

type surveysOut struct {
	Link string `header:"Link"`
	Body struct {
		Items []Survey `json:"items"`
	}
}

type surveyReasonIn struct {
	SurveyIn
	Changed
	Body struct {
		Reason string `json:"reason"`
	}
}

// surveyParams are what a survey sent as a table says in the query.
var surveyParams = []string{
	"elevation: id, \"Building / Name\", or a name used once", "stage: of the work", "dx_m: step along the wall", "dz_m: step up the wall",
	"x_m: of the bottom left point", "z_m: of the bottom left point", "straightedge_m: the longest to judge with",
	"expanded_uncertainty: U of one offset in mm", "instrument: id or name", "measured_at: RFC 3339", "by: login", "note: remark",
}

func (a *api) surveys() {
	add := withBody(post("/sites/{site}/surveys", "Add a line and level survey of an elevation: a grid of offsets in mm. As text/csv the body is the "+
		"grid alone, the top row first as seen from outside, empty cells not taken, and the rest goes into the query"), "application/json", "text/csv")
	add.RequestBody.Content["application/json"].Schema = schemaOf[NewSurvey](a)
	a.stream(withAnswer(withParams(add, surveyParams...), "201", "application/json"), may(defects.AddReading), a.postSurvey)
	handle(a, get("/sites/{site}/surveys", "Line and level surveys, the newest measured first"), may(defects.ViewSite), a.listSurveys)
	handle(a, get("/sites/{site}/surveys/{survey}", "One survey with its grid, findings, best-fit plane, largest gaps, and packing to a target"), may(defects.ViewSite), a.getSurvey)
	a.stream(withAnswer(get("/sites/{site}/surveys/{survey}/contours.svg", "The drawing of a survey to scale: lines of equal offset, its points, the gap and the column that govern"),
		"200", "image/svg+xml"), may(defects.ViewSite), a.getContours)
	handle(a, post("/sites/{site}/surveys/{survey}/withdraw", "Withdraw a survey; it stays on the record with the reason"),
		may(defects.WithdrawReading), a.reasonedSurvey(a.s.reg.WithdrawSurvey)) // or whoever measured it
	handle(a, post("/sites/{site}/surveys/{survey}/rejudge", "Judge a survey again under the schedules in force; the old verdict stays in the log"),
		may(defects.SetLimits), a.reasonedSurvey(a.s.reg.RejudgeSurvey))
}

// postSurvey takes a survey as JSON or as a table.
func (a *api) postSurvey(c *gin.Context) error {
	in, err := surveyInput(c)
	if err != nil {
		return err
	}
	s, err := a.s.reg.AddSurvey(c.Request.Context(), actorOf(c), c.Param("site"), in)
	if err != nil {
		return err
	}
	c.Header("Location", apiRoot+"/sites/"+c.Param("site")+"/surveys/"+s.ID)
	c.Header("ETag", etag(s.Version))
	c.JSON(http.StatusCreated, surveyOf(s))
	return nil
}

func surveyInput(c *gin.Context) (register.SurveyInput, error) {
	kind, _, _ := mime.ParseMediaType(c.GetHeader("Content-Type"))
	switch kind {
	case "text/csv":
		body, err := readAtMost(c.Request.Body, defects.MaxSurveyBytes)
		return register.SurveyInput{
			ElevationID: c.Query("elevation"), Stage: c.Query("stage"), DX: c.Query("dx_m"), DZ: c.Query("dz_m"), X: c.Query("x_m"), Z: c.Query("z_m"),
			Straightedge: c.Query("straightedge_m"), Expanded: c.Query("expanded_uncertainty"), InstrumentID: c.Query("instrument"),
			MeasuredAt: c.Query("measured_at"), ByLogin: c.Query("by"), Note: c.Query("note"), Offsets: string(body),
		}, err
	case "application/json":
		body, err := readAtMost(c.Request.Body, maxSurveyBody)
		if err != nil {
			return register.SurveyInput{}, err
		}
		var n NewSurvey
		if err := strictJSON(body, &n); err != nil {
			return register.SurveyInput{}, err
		}
		return n.input()
	}
	return register.SurveyInput{}, defects.RefuseField(defects.UnsupportedType, "Content-Type", "unsupported_type", "send application/json or text/csv")
}

// readAtMost reads a body that may not be longer.
func readAtMost(r io.Reader, most int) ([]byte, error) {
	body, err := io.ReadAll(io.LimitReader(r, int64(most)+1))
	if err == nil && len(body) > most {
		err = defects.Refuse(defects.TooLarge, "survey_too_large", "a survey is at most 1 MB")
	}
	return body, err
}

func (a *api) listSurveys(ctx context.Context, in *surveysIn) (*surveysOut, error) {
	if err := errors.Join(stageFilter(in.Stage), a.s.elevationFilter(ctx, actorFrom(ctx), in.Site, in.Elevation)); err != nil {
		return nil, err
	}
	page, err := a.s.reg.ListSurveys(ctx, actorFrom(ctx), register.SurveyFilter{SiteID: in.Site, ElevationID: in.Elevation, Stage: in.Stage}, in.page())
	if err != nil {
		return nil, err
	}
	out := &surveysOut{Link: nextLink("/sites/"+in.Site+"/surveys", query("limit", in.limit(), "elevation", in.Elevation, "stage", in.Stage), page.Next)}
	out.Body.Items = each(page.Items, surveyOf)
	return out, nil
}

func (a *api) getSurvey(ctx context.Context, in *oneSurveyIn) (*surveyOut, error) {
	v, err := a.s.reg.Survey(ctx, actorFrom(ctx), in.Site, in.ID)
	if err != nil {
		return nil, err
	}
	target, cut, err := dubbingAsked(in.Target, in.CutBack)
	if err != nil {
		return nil, err
	}
	g, err := v.Grid()
	if err != nil {
		return nil, err
	}
	figures, err := g.Figures(target, cut)
	out := &surveyOut{ETag: etag(v.Version), Body: surveyOf(v.Survey)}
	out.Body.SurveyMore = surveyMoreOf(v, g, figures, target)
	return out, err
}

// getContours answers a survey's drawing as a file, which brings its own style.
func (a *api) getContours(c *gin.Context) error {
	v, err := a.s.reg.Survey(c.Request.Context(), actorOf(c), c.Param("site"), c.Param("survey"))
	if err != nil {
		return err
	}
	g, err := v.Grid()
	if err != nil {
		return err
	}
	svg, err := contoursOf(v, g)
	if err != nil {
		return err
	}
	style := sha256.Sum256([]byte(report.SurveyStyle))
	c.Header("Content-Security-Policy", "default-src 'none'; style-src 'sha256-"+base64.StdEncoding.EncodeToString(style[:])+"'; frame-ancestors 'none'")
	c.Header("ETag", etag(v.Version))
	c.Data(http.StatusOK, "image/svg+xml", []byte(report.Standalone(svg)))
	return nil
}

// dubbingAsked reads what a wall is to be brought out to; nothing is plumb
// without cutting back.
func dubbingAsked(target, cutBack string) (defects.DubTarget, float64, error) {
	to := defects.DubTargets()[0]
	if target != "" {
		to = defects.DubTarget(target)
	}
	if cutBack == "" {
		return to, 0, nil
	}
	d, err := defects.ParseDecimal(cutBack)
	return to, d.Float(), atField(err, "cut_back_mm")
}

// reasonedSurvey is a guarded write on a survey that needs only a reason.
func (a *api) reasonedSurvey(do func(context.Context, register.Actor, string, string, int, string) (defects.Survey, error)) func(context.Context, *surveyReasonIn) (*surveyOut, error) {
	return func(ctx context.Context, in *surveyReasonIn) (*surveyOut, error) {
		version, err := ifMatch(in.IfMatch)
		if err != nil {
			return nil, err
		}
		s, err := do(ctx, actorFrom(ctx), in.Site, in.ID, version, in.Body.Reason)
		return &surveyOut{ETag: etag(s.Version), Body: surveyOf(s)}, err
	}
}
