package server

import (
	"html/template"
	"net/http"
	"slices"
	"strings"

	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/report"
)

func (s *Server) addWallPages() {
	view, edit := may(defects.ViewSite), may(defects.EditSite)
	s.page(http.MethodGet, "/sites/:site", signedIn, s.showSite)
	s.page(http.MethodGet, "/sites/:site/elevations/:elevation", view, s.showElevation)
	s.page(http.MethodGet, "/sites/:site/elevations/:elevation/edit", edit, s.showElevationEdit)
	s.page(http.MethodPost, "/sites/:site/elevations/:elevation/edit", edit, s.postElevationEdit)
	s.page(http.MethodGet, "/sites/:site/buildings/:building", edit, s.showBuilding)
	s.page(http.MethodPost, "/sites/:site/buildings/:building", edit, s.postBuilding)
}

// siteView is the first page of a site: its walls and what they ask for.
type siteView struct {
	frame
	Blocks    []blockView
	Plan      template.HTML
	Next      []defects.SnagItem
	FollowUps []register.FollowUp
	Unplaced  []defects.Photo
	Adrift    []defects.Reading // readings with no elevation
	Overdue   int               // open snags whose date is past
	MyGang    string

	MorePhotos, MoreReadings bool // there are older ones than were looked at
}

// blockView is one building with its elevations.
type blockView struct {
	Building   defects.Building
	Elevations []wallView
}

// wallView is one elevation with its open snags by severity.
type wallView struct {
	Elevation defects.Elevation
	Open      int
	Counts    []severityCount
}

type severityCount struct {
	Severity defects.Severity
	N        int
}

func (s *Server) showSite(c *gin.Context) error {
	f, err := s.onSite(c, "elevations")
	if err != nil {
		return err
	}
	if f.view.Role == "" { // an administrator who is no member sees its people alone
		return seeOther(c, f.Path("people"))
	}
	v := siteView{frame: f, MyGang: f.view.Gang}
	for _, load := range []func(*gin.Context, *siteView) error{s.loadWalls, s.loadWaiting} {
		if err := load(c, &v); err != nil {
			return err
		}
	}
	return s.render(c, http.StatusOK, "site", v)
}

// loadWalls gets the buildings, their elevations and what is open on each.
func (s *Server) loadWalls(c *gin.Context, v *siteView) error {
	ctx, a := c.Request.Context(), actorOf(c)
	buildings, err := s.reg.Buildings(ctx, a, v.Site.ID)
	if err != nil {
		return err
	}
	walls, err := s.reg.Elevations(ctx, a, v.Site.ID)
	if err != nil {
		return err
	}
	lists, err := s.reg.SnagLists(ctx, a, v.Site.ID, register.ListFilter{})
	if err != nil {
		return err
	}
	v.Blocks, v.Plan = blocksOf(v.frame, buildings, walls, lists)
	v.Next, v.Overdue = nextDue(lists)
	return nil
}

// loadWaiting gets what waits for somebody: follow-ups, photos and readings
// without a wall.
func (s *Server) loadWaiting(c *gin.Context, v *siteView) error {
	ctx, a := c.Request.Context(), actorOf(c)
	var err error
	if v.FollowUps, err = s.reg.FollowUps(ctx, a, v.Site.ID, ""); err != nil {
		return err
	}
	photos, err := s.reg.ListPhotos(ctx, a, register.PhotoFilter{SiteID: v.Site.ID, Unplaced: true}, register.Page{Limit: 8})
	if err != nil {
		return err
	}
	readings, err := s.reg.ListReadings(ctx, a, register.ReadingFilter{SiteID: v.Site.ID}, largePage())
	if err != nil {
		return err
	}
	v.Unplaced, v.MorePhotos, v.MoreReadings = photos.Items, photos.Next != "", readings.Next != ""
	for _, rd := range readings.Items {
		if rd.Place.ElevationID == "" && rd.Withdrawn == "" && !ofTheSite(rd.Quantity) {
			v.Adrift = append(v.Adrift, rd)
		}
	}
	return nil
}

// ofTheSite tells quantities that belong to no wall: weather and material.
func ofTheSite(quantity string) bool {
	return slices.Contains([]string{"air_temperature", "relative_humidity", "mortar_age", "mix_water", "mix_time", "stand_time"}, quantity)
}

func blocksOf(f frame, buildings []defects.Building, walls []defects.Elevation, lists []defects.SnagList) ([]blockView, template.HTML) {
	open := map[string]map[defects.Severity]int{}
	for _, l := range lists {
		open[l.Elevation.ID] = l.BySeverity
	}
	at := map[string]int{}
	blocks := make([]blockView, 0, len(buildings))
	for i, b := range buildings {
		at[b.ID] = i
		blocks = append(blocks, blockView{Building: b})
	}
	var faces []report.PlanElevation
	for _, e := range walls {
		w := wallView{Elevation: e}
		for _, severity := range defects.Severities() {
			n := open[e.ID][severity]
			w.Open += n
			w.Counts = append(w.Counts, severityCount{severity, n})
		}
		if i, ok := at[e.BuildingID]; ok {
			blocks[i].Elevations = append(blocks[i].Elevations, w)
		}
		faces = append(faces, report.PlanElevation{Elevation: e, Open: w.Open, Href: f.Path("elevations", e.ID)})
	}
	return blocks, template.HTML(report.PlanSVG(buildings, faces))
}

// nextDue gives the snags that fall due first, and how many are overdue.
func nextDue(lists []defects.SnagList) (next []defects.SnagItem, overdue int) {
	const most = 8
	for _, l := range lists {
		for _, item := range l.Items {
			if item.Due.On != "" {
				next = append(next, item)
			}
			if item.Overdue > 0 {
				overdue++
			}
		}
	}
	slices.SortStableFunc(next, func(a, b defects.SnagItem) int { return strings.Compare(a.Due.On, b.Due.On) })
	return next[:min(len(next), most)], overdue
}
