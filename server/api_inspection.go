package server

import (
	"net/http"
	"strings"

	"github.com/danielgtaylor/huma/v2"
	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/report"
)

// InspectionPlan is what is still to be photographed and released.
type InspectionPlan struct {
	Items []InspectionEntry `json:"items" doc:"what a planned date takes away soonest comes first"`
}

// InspectionEntry is what one stage of the work on one elevation still asks for.
type InspectionEntry struct {
	ElevationID string               `json:"elevation_id"`
	Building    string               `json:"building"`
	Elevation   string               `json:"elevation"`
	Stage       string               `json:"stage"`
	StageName   string               `json:"stage_name"`
	HoldPoint   string               `json:"hold_point,omitempty"`
	Scale       bool                 `json:"scale_in_frame"`
	Overhead    bool                 `json:"above_reach" doc:"some of it is higher than can be reached from the ground"`
	Before      string               `json:"before,omitempty" doc:"the planned date that takes the chance away"`
	BeforeWhat  string               `json:"before_what,omitempty"`
	Past        bool                 `json:"past,omitempty" doc:"that date is past"`
	ByCell      bool                 `json:"photos_by_cell" doc:"photos are asked for of each bay and lift, else by item, opening, run or elevation"`
	Usable      int                  `json:"photos_usable" doc:"photos of the stage on the elevation that can be used"`
	Cells       []InspectionCell     `json:"cells" doc:"the top lift first, each from the left"`
	Loose       []string             `json:"loose" doc:"photos of the stage on the elevation without a bay and lift"`
	Photos      []InspectionPhoto    `json:"photos" doc:"what photos of the stage should show"`
	Readings    []InspectionQuantity `json:"readings" doc:"what the stage needs measured"`
}

// InspectionCell is a bay and lift that asks for something.
type InspectionCell struct {
	Bay     int          `json:"bay"`
	Lift    int          `json:"lift"`
	Photo   bool         `json:"photo_missing"`
	Short   []CoverShort `json:"short" doc:"photos that do not count, and why"`
	Release bool         `json:"release_missing"`
	Refused bool         `json:"refused,omitempty"`
}

// InspectionPhoto is one row of the table of photos that stages need.
type InspectionPhoto struct {
	Show      string `json:"show"`
	Scale     string `json:"scale"`
	HowMany   string `json:"how_many"`
	LostAfter string `json:"lost_after"`
}

// InspectionQuantity is one row of the table of readings that stages need.
type InspectionQuantity struct {
	Name       string   `json:"name"`
	Quantities []string `json:"quantities"`
	HowMany    string   `json:"how_many"`
	Limit      string   `json:"limit"`
	Basis      string   `json:"basis"`
}

func inspectionOf(p defects.PlanEntry) InspectionEntry {
	return InspectionEntry{
		ElevationID: p.Elevation.ID, Building: p.Elevation.Building, Elevation: p.Elevation.Name, Stage: p.Stage.Code, StageName: p.Stage.Name,
		HoldPoint: p.Stage.HoldPoint, Scale: p.Scale, Overhead: p.Overhead, Before: p.Due.On, BeforeWhat: p.Due.Text, Past: p.Past,
		Loose: each(p.Loose, same), ByCell: p.ByCell, Usable: p.Usable,
		Cells: each(p.Cells, func(c defects.PlanCell) InspectionCell {
			return InspectionCell{Bay: c.Bay, Lift: c.Lift, Photo: c.Photo, Release: c.Release, Refused: c.Refused, Short: each(c.Short, func(s defects.ShortPhoto) CoverShort {
				return CoverShort{ID: s.ID, Why: s.Why}
			})}
		}),
		Photos: each(p.Photos, func(r defects.RequiredPhoto) InspectionPhoto {
			return InspectionPhoto{Show: r.Show, Scale: r.Scale, HowMany: r.HowMany, LostAfter: r.LostAfter}
		}),
		Readings: each(p.Readings, func(r defects.RequiredReading) InspectionQuantity {
			return InspectionQuantity{Name: r.Name, Quantities: each(r.Quantities, same), HowMany: r.HowMany, Limit: r.Limit, Basis: r.Basis}
		}),
	}
}

func (a *api) inspectionPlan() {
	op := withParams(get("/sites/{site}/plan", "Inspection plan: the bays and lifts without a usable photo or a release, for each stage that is under way or will be hidden; "+
		"worked out from photos, readings, releases and planned dates as they are"),
		"format: json or csv", "elevation: id", "stage: code, such as BM; planned for even if it has not begun", "worst_grade: of a photo that counts: A, B or C; B when absent")
	op = withAnswer(op, "200", "application/json", "text/csv")
	op.Responses["200"].Content["application/json"] = &huma.MediaType{Schema: schemaOf[InspectionPlan](a)}
	a.stream(op, may(defects.ViewSite), a.getInspectionPlan)
}

func (a *api) getInspectionPlan(c *gin.Context) error {
	if _, err := a.s.reg.SiteHead(c.Request.Context(), actorOf(c), c.Param("site")); err != nil {
		return err
	}
	format := c.Query("format")
	if format == "" && strings.Contains(c.GetHeader("Accept"), "text/csv") {
		format = "csv"
	}
	if err := wordFilter("format", format, []string{"json", "csv"}); err != nil {
		return err
	}
	if err := wordFilter("worst_grade", c.Query("worst_grade"), []string{"A", "B", "C"}); err != nil {
		return err
	}
	plan, err := a.s.reg.InspectionPlan(c.Request.Context(), actorOf(c), c.Param("site"), planAsk(c.Query("elevation"), c.Query("stage"), c.Query("worst_grade")))
	if err != nil {
		return err
	}
	if format == "csv" {
		c.Header("Content-Type", "text/csv; charset=utf-8")
		c.Header("Content-Disposition", `attachment; filename="inspection-plan.csv"`)
		return report.WritePlanCSV(c.Writer, plan)
	}
	c.JSON(http.StatusOK, InspectionPlan{Items: each(plan, inspectionOf)})
	return nil
}
