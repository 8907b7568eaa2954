package server

import (
	"cmp"
	"context"
	"encoding/csv"
	"net/http"
	"strconv"
	"strings"

	"github.com/danielgtaylor/huma/v2"
	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/defects/statistics"
)

// SampleItem is one item of a lot, with the address of what it is.
type SampleItem struct {
	ID      string `json:"id" doc:"what is drawn by"`
	Stratum string `json:"stratum,omitempty"`
	Title   string `json:"title,omitempty"`
	Href    string `json:"href,omitempty"`
}

// Detected is the probability that the sample shows at least one of so many bad
// items.
type Detected struct {
	Defective int     `json:"defective"`
	P         float64 `json:"p"`
}

// SampleStratum says how many of a part of the lot were drawn.
type SampleStratum struct {
	Stratum string `json:"stratum"`
	Size    int    `json:"size"`
	Drawn   int    `json:"drawn"`
}

// Sample is a plan, the items drawn by it, and what they can miss.
type Sample struct {
	Lot     int             `json:"lot"`
	LotCode string          `json:"lot_code,omitempty" doc:"letter of the lot's size"`
	Code    string          `json:"code,omitempty" doc:"letter of the plan used, after following the table's arrows"`
	N       int             `json:"n"`
	Ac      int             `json:"ac" doc:"accept with at most so many bad ones"`
	Re      int             `json:"re" doc:"reject from so many on"`
	All     bool            `json:"all" doc:"the plan asks for the whole lot"`
	Seed    string          `json:"seed"`
	Method  string          `json:"method"`
	Strata  []SampleStratum `json:"strata"`
	Drawn   []SampleItem    `json:"drawn" doc:"in the order of rank, stratum by stratum"`
	Risk    []SampleItem    `json:"risk" doc:"picked by a person; they say nothing about the lot"`
	Detect  []Detected      `json:"detect"`
	Extend  []SampleItem    `json:"extend,omitempty" doc:"the whole of the stratum asked for with extend: what a major finding in it proposes to inspect; a critical one proposes the whole lot"`
}

// drawMethod is the generator in plain words, the same on page and REST.
const drawMethod = "Each item's rank is the SHA-256 of the seed, a line feed and the item's id, in UTF-8; in each stratum the items with the smallest ranks are drawn. " +
	"Strata share the sample in proportion to their size, each at least one where it is large enough. Anybody can check it with sha256sum and sort, and an item that joins the lot later moves no other."

// LotIn says what a sample is drawn from.
type LotIn struct {
	SiteIn
	Of  string `query:"of" doc:"elevations, cells (bay × lift), closed-snags, readings, photos or number"`
	By  string `query:"by" doc:"strata by building, stage or gang; none when absent"`
	Lot int    `query:"lot" doc:"size of a lot of number"`
}

// SamplePlanIn says by which plan.
type SamplePlanIn struct {
	Scheme     string   `query:"scheme" doc:"single (ISO 2859-1, when absent), zero (the lot's own letter, accepting none) or discovery"`
	Level      string   `query:"level" doc:"general inspection level I, II (when absent) or III"`
	AQL        string   `query:"aql" doc:"acceptance quality limit in per cent, 2.5 when absent"`
	Inspection string   `query:"inspection" doc:"normal (when absent), tightened or reduced"`
	Bad        int      `query:"bad" doc:"discovery: bad items of which one is to be shown"`
	Confidence float64  `query:"confidence" doc:"discovery: probability of showing it, 0.95 when absent"`
	Seed       string   `query:"seed" doc:"text that fixes the draw; one is made and told when absent"`
	Risk       []string `query:"risk,explode" doc:"ids picked by a person"`
	Extend     string   `query:"extend" doc:"a stratum to list whole"`
}

func (p SamplePlanIn) spec() statistics.SampleSpec {
	return statistics.SampleSpec{
		Scheme: statistics.Scheme(p.Scheme), Level: cmp.Or(p.Level, "II"), AQL: cmp.Or(p.AQL, "2.5"),
		Inspection: statistics.Inspection(cmp.Or(p.Inspection, string(statistics.NormalInspection))),
		Bad:        p.Bad, Confidence: cmp.Or(p.Confidence, 0.95), Seed: p.Seed, Risk: p.Risk,
	}
}

func (l LotIn) input(spec statistics.SampleSpec) register.SampleInput {
	return register.SampleInput{Of: register.LotKind(l.Of), By: register.LotBy(l.By), Number: l.Lot, SampleSpec: spec}
}

type sampleIn struct {
	LotIn
	SamplePlanIn
}

// NewSample asks for a draw from a lot that is listed in the request.
type NewSample struct {
	Items []struct {
		ID      string `json:"id"`
		Stratum string `json:"stratum,omitempty"`
	} `json:"items"`
	Scheme     string   `json:"scheme,omitempty"`
	Level      string   `json:"level,omitempty"`
	AQL        string   `json:"aql,omitempty"`
	Inspection string   `json:"inspection,omitempty"`
	Bad        int      `json:"bad,omitempty"`
	Confidence float64  `json:"confidence,omitempty"`
	Seed       string   `json:"seed,omitempty"`
	Risk       []string `json:"risk,omitempty"`
	Extend     string   `json:"extend,omitempty"`
}

type newSampleIn struct {
	SiteIn
	Body NewSample
}

type sampleOut struct{ Body Sample }

func sampleOf(site string, s register.DrawnSample, extend string) Sample {
	item := func(it register.LotItem) SampleItem {
		return SampleItem{ID: it.ID, Stratum: it.Stratum, Title: it.Title, Href: lotHref(apiRoot+"/sites/"+site, it)}
	}
	known := func(it statistics.Item) SampleItem { return item(s.ByID[it.ID]) }
	out := Sample{
		Lot: len(s.Lot), LotCode: s.Plan.LotCode, Code: s.Plan.Code, N: s.Plan.N, Ac: s.Plan.Ac, Re: s.Plan.Re, All: s.Plan.All,
		Seed: s.Drawn.Seed, Method: drawMethod, Drawn: each(s.Drawn.Sample, known), Risk: each(s.Drawn.Risk, known),
		Strata: each(s.Strata, func(c register.StratumCount) SampleStratum { return SampleStratum(c) }),
		Detect: each(s.Detect, func(d statistics.DetectedAt) Detected { return Detected(d) }),
	}
	if extend != "" {
		out.Extend = each(s.Stratum(extend), item)
	}
	return out
}

// lotHref is the address of what an item stands for under a site's root; "" for
// an item that is only a number or a name.
func lotHref(root string, it register.LotItem) string {
	switch {
	case it.Snag > 0:
		return root + "/snags/" + strconv.Itoa(it.Snag)
	case it.ReadingID != "":
		return root + "/readings/" + it.ReadingID
	case it.PhotoID != "":
		return root + "/photos/" + it.PhotoID
	case it.ElevationID != "":
		return root + "/elevations/" + it.ElevationID
	}
	return ""
}

func (a *api) sampling() {
	reg := a.s.reg
	handle(a, get("/sites/{site}/sample", "Draw an audit sample from what the site holds; nothing is stored"), may(defects.DrawSample),
		func(ctx context.Context, in *sampleIn) (*sampleOut, error) {
			s, err := reg.DrawSample(ctx, actorFrom(ctx), in.Site, in.input(in.spec()))
			if err != nil {
				return nil, err
			}
			return &sampleOut{Body: sampleOf(in.Site, s, in.Extend)}, nil
		})
	handle(a, post("/sites/{site}/sample", "Draw an audit sample from a lot that is listed in the request; nothing is stored"), may(defects.DrawSample), a.postSample)
	lot := get("/sites/{site}/sample/lot", "The lot that a sample is drawn from, as comma separated text with the columns id and stratum")
	lot.Responses = map[string]*huma.Response{"200": {Description: "the lot", Content: map[string]*huma.MediaType{"text/csv": {Schema: &huma.Schema{Type: huma.TypeString}}}}}
	a.stream(withParams(lot, "of: as for the sample", "by: as for the sample", "lot: as for the sample"), may(defects.DrawSample), a.s.lotFile)
}

func (a *api) postSample(ctx context.Context, in *newSampleIn) (*sampleOut, error) {
	b := in.Body
	spec := SamplePlanIn{
		Scheme: b.Scheme, Level: b.Level, AQL: b.AQL, Inspection: b.Inspection, Bad: b.Bad, Confidence: b.Confidence, Seed: b.Seed, Risk: b.Risk,
	}.spec()
	input := register.SampleInput{SampleSpec: spec}
	for _, it := range b.Items {
		input.Items = append(input.Items, statistics.Item{ID: it.ID, Stratum: it.Stratum})
	}
	if len(input.Items) == 0 {
		return nil, defects.RefuseField(defects.Invalid, "items", "lot_missing", "list the lot")
	}
	s, err := a.s.reg.DrawSample(ctx, actorFrom(ctx), in.Site, input)
	if err != nil {
		return nil, err
	}
	return &sampleOut{Body: sampleOf(in.Site, s, b.Extend)}, nil
}

// lotFile writes a lot so that the command line can draw from it.
func (s *Server) lotFile(c *gin.Context) error {
	form := queryForm(c, "f")
	number, err := typedWhole(form, "lot")
	if err != nil {
		return err
	}
	lot, err := s.reg.AuditLot(c.Request.Context(), actorOf(c), c.Param("site"), LotIn{Of: typed(form, "of"), By: typed(form, "by"), Lot: number}.input(statistics.SampleSpec{}))
	if err != nil {
		return err
	}
	var text strings.Builder
	w := csv.NewWriter(&text)
	rows := [][]string{{"id", "stratum"}}
	for _, it := range lot {
		rows = append(rows, []string{it.ID, it.Stratum})
	}
	if err := w.WriteAll(rows); err != nil {
		return err
	}
	c.Header("Content-Disposition", `attachment; filename="lot.csv"`)
	c.Data(http.StatusOK, "text/csv; charset=utf-8", []byte(text.String()))
	return nil
}
