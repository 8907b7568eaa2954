package server

import (
	"context"
	"fmt"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/report"
)

type snagsIn struct {
	SiteIn
	Paging
	Elevation string `query:"elevation" doc:"elevation id"`
	State     string `query:"state" doc:"one or more, separated by commas"`
	Open      bool   `query:"open" doc:"only those that still owe work or a decision"`
	Severity  string `query:"severity" doc:"one or more, separated by commas"`
	Stage     string `query:"stage"`
	Gang      string `query:"gang"`
	Code      string `query:"code" doc:"a defect code, or the stage that codes begin with"`
	Bay       int    `query:"bay" minimum:"1"`
	Lift      int    `query:"lift" minimum:"1"`
	DueReason string `query:"due_reason" doc:"instruction, cover-up, strike or completion: those that a date of this kind applies to"`
	Milestone string `query:"milestone" doc:"id of a planned date: those that it applies to"`
	Overdue   bool   `query:"overdue" doc:"only those whose date is past, counted in the site's zone"`
}

// values are the parameters by name, as a page's address would hold them.
func (in *snagsIn) values() url.Values {
	q := query("elevation", in.Elevation, "state", in.State, "severity", in.Severity, "stage", in.Stage, "gang", in.Gang,
		"code", in.Code, "due_reason", in.DueReason, "milestone", in.Milestone)
	for name, n := range map[string]int{"bay": in.Bay, "lift": in.Lift} {
		if n > 0 {
			q.Set(name, strconv.Itoa(n))
		}
	}
	for name, yes := range map[string]bool{"open": in.Open, "overdue": in.Overdue} {
		if yes {
			q.Set(name, "true")
		}
	}
	return q
}

type snagsOut struct {
	Link string `header:"Link"`
	Body struct {
		Items []SnagLine `json:"items"`
	}
}

// SnagIn is the path of one snag.
type SnagIn struct {
	SiteIn
	Number int `path:"number"`
}

type snagOut struct {
	ETag     string `header:"ETag"`
	Location string `header:"Location"`
	Body     Snag
}

type snagDetailOut struct {
	ETag string `header:"ETag"`
	Body SnagDetail
}

type raiseIn struct {
	SiteIn
	Body struct {
		Place           *Place   `json:"place,omitempty" doc:"the reading's place when absent"`
		Code            string   `json:"code,omitempty" doc:"defect code; the reading's own when absent"`
		Severity        string   `json:"severity,omitempty"`
		Extent          string   `json:"extent,omitempty"`
		Covered         bool     `json:"covered,omitempty"`
		Requirement     string   `json:"requirement,omitempty"`
		Text            string   `json:"text,omitempty"`
		Gang            string   `json:"gang,omitempty"`
		ReadingID       string   `json:"reading_id,omitempty"`
		NoReadingReason string   `json:"no_reading_reason,omitempty"`
		Photos          []string `json:"photos,omitempty"`
	}
}

func (a *api) snags() {
	reg := a.s.reg
	handle(a, get("/sites/{site}/snags", "Snags by number"), may(defects.ViewSite), a.listSnags)
	handle(a, created(post("/sites/{site}/snags", "Raise a snag, from what was seen or from a failed reading")), may(defects.RaiseSnag), a.raise)
	handle(a, get("/sites/{site}/snags/{number}", "One snag with its history and the steps you may take"), may(defects.ViewSite),
		func(ctx context.Context, in *SnagIn) (*snagDetailOut, error) {
			v, err := reg.Snag(ctx, actorFrom(ctx), in.Site, in.Number)
			return &snagDetailOut{ETag: etag(v.Snag.Version), Body: snagDetailOf(v)}, err
		})
	for _, step := range defects.Steps() {
		op := post("/sites/{site}/snags/{number}/"+string(step), stepSummaries[step])
		handle(a, op, may(defects.StepSnag), func(ctx context.Context, in *stepIn) (*snagOut, error) { return a.step(ctx, step, in) })
	}
	a.stream(listParameters(get("/sites/{site}/elevations/{elevation}/snag-list", "Snag list of an elevation in walking order; "+
		"format=json, csv or geojson; filters: state, all, severity, stage, gang, code, bay, lift, due_reason, milestone, overdue")),
		may(defects.ViewSite), func(c *gin.Context) error { return a.snagList(c, c.Param("elevation")) })
	a.stream(listParameters(get("/sites/{site}/snag-lists", "The same for every elevation")),
		may(defects.ViewSite), func(c *gin.Context) error { return a.snagList(c, "") })
}

func (a *api) listSnags(ctx context.Context, in *snagsIn) (*snagsOut, error) {
	q := in.values()
	f, err := readListFilter(q.Get)
	if err != nil {
		return nil, err
	}
	f.All = !in.Open
	if err := a.s.elevationFilter(ctx, actorFrom(ctx), in.Site, in.Elevation); err != nil {
		return nil, err
	}
	page, err := a.s.reg.ListItems(ctx, actorFrom(ctx), in.Site, in.Elevation, f, in.page())
	if err != nil {
		return nil, err
	}
	q.Set("limit", in.limit())
	out := &snagsOut{Link: nextLink("/sites/"+in.Site+"/snags", q, page.Next)}
	out.Body.Items = each(page.Items, snagLineOf)
	return out, nil
}

func (a *api) raise(ctx context.Context, in *raiseIn) (*snagOut, error) {
	b := in.Body
	raise := register.RaiseInput{
		Code: b.Code, Severity: defects.Severity(b.Severity), Extent: defects.Extent(b.Extent),
		Covered: b.Covered, Requirement: b.Requirement, Text: b.Text, Gang: b.Gang, ReadingID: b.ReadingID,
		NoReadingReason: b.NoReadingReason, Photos: b.Photos,
	}
	if b.Place != nil {
		p, err := b.Place.place()
		if err != nil {
			return nil, err
		}
		raise.ElevationID, raise.X, raise.Z, raise.Bay, raise.Lift = p.ElevationID, p.X, p.Z, p.Bay, p.Lift
		raise.Opening, raise.Zone = p.Opening, p.Zone
	}
	s, err := a.s.reg.RaiseSnag(ctx, actorFrom(ctx), in.Site, raise)
	if err != nil {
		return nil, err
	}
	return &snagOut{ETag: etag(s.Version), Location: fmt.Sprintf("%s/sites/%s/snags/%d", apiRoot, in.Site, s.Number), Body: snagOf(s)}, nil
}

// snagList answers one or all snag lists in the form asked for.
func (a *api) snagList(c *gin.Context, elevation string) error {
	ctx, actor, site := c.Request.Context(), actorOf(c), c.Param("site")
	f, err := readListFilter(c.Query)
	if err != nil {
		return err
	}
	var lists []defects.SnagList
	if elevation == "" {
		lists, err = a.s.reg.SnagLists(ctx, actor, site, f)
	} else {
		var one defects.SnagList
		one, err = a.s.reg.SnagList(ctx, actor, site, elevation, f)
		lists = []defects.SnagList{one}
	}
	if err != nil {
		return err
	}
	return a.writeLists(c, lists, elevation != "")
}

func (a *api) writeLists(c *gin.Context, lists []defects.SnagList, single bool) error {
	site, err := a.s.reg.SiteHead(c.Request.Context(), actorOf(c), c.Param("site"))
	if err != nil {
		return err
	}
	zone, err := time.LoadLocation(site.TimeZone)
	if err != nil {
		return fmt.Errorf("zone of site %s: %w", site.ID, err)
	}
	format := c.Query("format")
	if format == "" && strings.Contains(c.GetHeader("Accept"), "text/csv") {
		format = "csv"
	}
	switch format {
	case "csv":
		c.Header("Content-Type", "text/csv; charset=utf-8")
		c.Header("Content-Disposition", `attachment; filename="snag-list.csv"`)
		return report.WriteSnagCSV(c.Writer, lists, zone)
	case "geojson":
		buildings, err := a.s.reg.Buildings(c.Request.Context(), actorOf(c), site.ID)
		if err != nil {
			return err
		}
		c.Header("Content-Type", geoJSON)
		return report.WriteSnagGeoJSON(c.Writer, lists, buildings, zone)
	case "", "json":
		if single {
			c.JSON(http.StatusOK, report.SnagListOf(lists[0], zone))
			return nil
		}
		c.Header("Content-Type", "application/json; charset=utf-8")
		return report.WriteSnagJSON(c.Writer, lists, zone)
	}
	return defects.RefuseField(defects.Invalid, "format", "unknown_format", "json, csv or geojson")
}
