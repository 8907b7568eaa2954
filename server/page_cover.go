package server

import (
	"context"
	"fmt"
	"html/template"
	"net/http"
	"net/url"
	"strconv"

	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/defects/reference"
	"storeyrod/report"
	"storeyrod/web"
)

// coverView is which bays and lifts of an elevation a stage's photos show.
type coverView struct {
	frame
	Cover   defects.Cover
	Covered int
	Needed  []defects.RequiredPhoto // what the stage's photos should show
	Drawing template.HTML
	Filter  *web.Form
	Stages  []web.Option
	Grades  []web.Option
}

func (s *Server) showCover(c *gin.Context) error {
	f, err := s.onSite(c, "elevations")
	if err != nil {
		return err
	}
	ctx, a := c.Request.Context(), actorOf(c)
	form := queryForm(c, "filter")
	if typed(form, "stage") == "" {
		form.Set("stage", "IB")
	}
	need := coverNeed(typed(form, "stage"), typed(form, "worst"), typed(form, "scale"))
	cover, err := s.reg.Coverage(ctx, a, f.Site.ID, c.Param("elevation"), need)
	if err != nil {
		return err
	}
	wall := cover.Elevation
	f.Trail = []navLink{{Title: wall.Building + ", " + wall.Name, Href: f.Path("elevations", wall.ID)}}
	v := coverView{
		frame: f, Cover: cover, Covered: len(cover.Cells) - len(cover.Bare()), Filter: form, Stages: stageOptions("choose"),
		Grades: gradeOptions(),
	}
	for _, row := range reference.RequiredPhotos() {
		if row.Stage == need.Stage {
			v.Needed = append(v.Needed, row)
		}
	}
	v.Drawing = template.HTML(report.ElevationSVG(report.Drawing{Elevation: wall, Cover: v.drawn()}))
	return s.render(c, http.StatusOK, "cover", v)
}

// coverNeed fills in what was not chosen: grade B, and a scale where the table
// of photos asks for one.
func coverNeed(stage, worst, scale string) defects.CoverNeed {
	need := defects.CoverNeed{Stage: stage, Worst: defects.GradeB}
	if worst == "A" || worst == "C" {
		need.Worst = defects.Grade(worst)
	}
	switch scale {
	case "yes":
		need.Scale = true
	case "no":
	default:
		need.Scale = defects.ScaleDue(stage, reference.RequiredPhotos())
	}
	return need
}

func (v coverView) drawn() []report.DrawnCell {
	cells := make([]report.DrawnCell, len(v.Cover.Cells))
	for i, c := range v.Cover.Cells {
		d := report.DrawnCell{
			Bay: c.Bay, Lift: c.Lift, Photos: len(c.Usable), Short: len(c.Short) > 0,
			Title: fmt.Sprintf("bay %d, lift %d: %d photos that can be used", c.Bay, c.Lift, len(c.Usable)),
		}
		if !c.Covered() && v.May("add photos") {
			d.Href = v.TakeIn(c)
		}
		cells[i] = d
	}
	return cells
}

// TakeIn is where a photo of a cell is taken in, with its place and stage filled
// in.
func (v coverView) TakeIn(c defects.CoverCell) string {
	q := url.Values{
		"elevation": {v.Cover.Elevation.ID}, "bay": {strconv.Itoa(c.Bay)}, "lift": {strconv.Itoa(c.Lift)}, "stage": {v.Cover.Need.Stage},
	}
	return v.Path("take-in") + "?" + q.Encode()
}

// CoverBody is which bays and lifts of an elevation have a photo of a stage that
// can be used.
type CoverBody struct {
	Stage     string      `json:"stage"`
	Worst     string      `json:"worst_grade"`
	Scale     bool        `json:"scale_in_frame"`
	Cells     []CoverCell `json:"cells" doc:"lift by lift from the top, each from the left"`
	BareCount int         `json:"without"`
	Loose     []string    `json:"loose" doc:"photos of the stage on the elevation without a bay and lift"`
}

// CoverCell is one bay and lift with its photos.
type CoverCell struct {
	Bay    int          `json:"bay"`
	Lift   int          `json:"lift"`
	Usable []string     `json:"usable"`
	Short  []CoverShort `json:"short"`
}

// CoverShort is a photo that cannot be used, and why.
type CoverShort struct {
	ID  string `json:"id"`
	Why string `json:"why"`
}

type coverIn struct {
	SiteIn
	ID    string `path:"elevation"`
	Stage string `query:"stage" doc:"code of the stage, such as BM"`
	Worst string `query:"worst_grade" enum:"A,B,C" default:"B"`
	Scale string `query:"scale" enum:"yes,no,as-due" default:"as-due" doc:"whether a scale must be in frame; as-due asks the table of photos that stages need"`
}

type coverOut struct{ Body CoverBody }

func (a *api) cover() {
	handle(a, get("/sites/{site}/elevations/{elevation}/coverage", "Which bays and lifts have a photo of a stage that can be used as evidence"),
		may(defects.ViewSite), func(ctx context.Context, in *coverIn) (*coverOut, error) {
			c, err := a.s.reg.Coverage(ctx, actorFrom(ctx), in.Site, in.ID, coverNeed(in.Stage, in.Worst, in.Scale))
			if err != nil {
				return nil, err
			}
			return &coverOut{CoverBody{
				Stage: c.Need.Stage, Worst: string(c.Need.Worst), Scale: c.Need.Scale, BareCount: len(c.Bare()), Loose: each(c.Loose, same),
				Cells: each(c.Cells, func(one defects.CoverCell) CoverCell {
					return CoverCell{Bay: one.Bay, Lift: one.Lift, Usable: each(one.Usable, same), Short: each(one.Short, func(p defects.ShortPhoto) CoverShort {
						return CoverShort{ID: p.ID, Why: p.Why}
					})}
				}),
			}}, nil
		})
}
