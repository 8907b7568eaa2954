package server

import (
	"cmp"
	"context"
	"fmt"
	"html/template"
	"net/http"
	"slices"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/report"
	"storeyrod/web"
)

const (
	planPhotos     = 300  // drawn at once
	planPhotosRead = 3000 // looked through for a day
)

// photoPlanView is the plan of a site with its photos, and the same in a table.
type photoPlanView struct {
	frame
	Plan      template.HTML
	Ground    string // whose map lies under it, "" without one
	Items     []planLine
	Chosen    *planLine // the photo that the page was opened from
	Filter    *web.Form
	Walls     []web.Option
	Stages    []web.Option
	People    []web.Option
	Left      int  // photos taken too far away to be drawn
	Placeless int  // photos that carry no position
	More      bool // there are more than are shown
	Accuracy  string
}

// planLine is one photo of the table.
type planLine struct {
	defects.Photo
	Taken     string
	Wall      string
	Direction string
}

func (s *Server) addPlanPages() {
	s.page(http.MethodGet, "/sites/:site/plan", may(defects.ViewSite), s.showInspectionPlan)
	s.page(http.MethodGet, "/sites/:site/photo-plan", may(defects.ViewSite), s.showPhotoPlan)
	s.page(http.MethodGet, "/sites/:site/elevations/:elevation/coverage", may(defects.ViewSite), s.showCover)
}

func (s *Server) showPhotoPlan(c *gin.Context) error {
	f, err := s.onSite(c, "photos")
	if err != nil {
		return err
	}
	ctx, a := c.Request.Context(), actorOf(c)
	form := queryForm(c, "filter")
	walls, err := s.reg.Elevations(ctx, a, f.Site.ID)
	if err != nil {
		return err
	}
	members, err := s.reg.Members(ctx, a, f.Site.ID)
	if err != nil {
		return err
	}
	f.Trail = []navLink{{Title: "Photos", Href: f.Path("photos")}}
	v := photoPlanView{frame: f, Filter: form, Walls: wallOptions(walls, "any elevation"), Stages: stageOptions("any stage"), People: adders(members), Accuracy: f.view.Accuracy.Words()}
	photos, err := s.planPhotos(ctx, a, &v)
	if err != nil {
		return err
	}
	names := wallNames(walls)
	if id := c.Query("photo"); id != "" {
		p, err := s.reg.Photo(ctx, a, f.Site.ID, id)
		if err != nil {
			return err
		}
		line := planLineOf(p, f, names)
		v.Chosen = &line
	}
	for _, p := range photos {
		v.Items = append(v.Items, planLineOf(p, f, names))
	}
	v.Ground = s.allowGround(c)
	v.Plan, v.Left, err = s.photoPlan(ctx, a, f, walls, v.drawn(photos), c.Query("photo"))
	if err != nil {
		return err
	}
	return s.render(c, http.StatusOK, "photo_plan", v)
}

// drawn is what is on the plan: the photos of the list and the chosen one.
func (v photoPlanView) drawn(photos []defects.Photo) []defects.Photo {
	if v.Chosen == nil || !v.Chosen.Capture.HasPlace() {
		return photos
	}
	rest := slices.DeleteFunc(slices.Clone(photos), func(p defects.Photo) bool { return p.ID == v.Chosen.ID })
	return append([]defects.Photo{v.Chosen.Photo}, rest...)
}

func adders(members []defects.Membership) []web.Option {
	out := []web.Option{{Text: "anybody"}}
	for _, m := range members {
		out = append(out, web.Option{Value: m.AccountID, Text: m.Name})
	}
	return out
}

// planPhotos finds the newest photos with a position under the page's choice.
func (s *Server) planPhotos(ctx context.Context, a register.Actor, v *photoPlanView) ([]defects.Photo, error) {
	filter := register.PhotoFilter{
		SiteID: v.Site.ID, ElevationID: typed(v.Filter, "elevation"), Stage: typed(v.Filter, "stage"), AddedBy: typed(v.Filter, "person"),
	}
	day := typed(v.Filter, "day")
	var out []defects.Photo
	page := register.Page{Limit: largePage().Limit}
	for read := 0; read < planPhotosRead; {
		list, err := s.reg.ListPhotos(ctx, a, filter, page)
		if err != nil {
			return nil, err
		}
		for _, p := range list.Items {
			at, _ := p.TakenAt(v.zone)
			switch {
			case day != "" && at.In(v.zone).Format(time.DateOnly) != day:
			case !p.Capture.HasPlace():
				v.Placeless++
			case len(out) == planPhotos:
				v.More = true
				return out, nil
			default:
				out = append(out, p)
			}
		}
		read += len(list.Items)
		if page.After = list.Next; list.Next == "" {
			return out, nil
		}
	}
	v.More = true
	return out, nil
}

func planLineOf(p defects.Photo, f frame, names map[string]string) planLine {
	l := planLine{Photo: p, Wall: names[p.Place.ElevationID], Direction: "not stated"}
	if at, _ := p.TakenAt(f.zone); !at.IsZero() {
		l.Taken = f.When(at)
	}
	if deg, note, ok := p.Capture.TrueHeading(); ok {
		l.Direction = fmt.Sprintf("%.0f°, %s", deg, strings.ToLower(defects.Wind(deg)))
		if note != "" {
			l.Direction += ", " + note
		}
	}
	return l
}

// photoPlan draws the plan of a site with photos on it, one of them marked.
func (s *Server) photoPlan(ctx context.Context, a register.Actor, f frame, walls []defects.Elevation, photos []defects.Photo, chosen string) (template.HTML, int, error) {
	buildings, err := s.reg.Buildings(ctx, a, f.Site.ID)
	if err != nil {
		return "", 0, err
	}
	faces := make([]report.PlanElevation, len(walls))
	for i, e := range walls {
		faces[i] = report.PlanElevation{Elevation: e, Open: -1, Href: f.Path("elevations", e.ID)}
	}
	names := wallNames(walls)
	spots := make([]report.PlanPhoto, 0, len(photos))
	for _, p := range slices.Backward(photos) { // the newest on top
		spot := planSpot(p, f, names)
		spot.Chosen = p.ID == chosen
		spots = append(spots, spot)
	}
	svg, left := report.PhotoPlanSVG(buildings, faces, spots, s.ground())
	return template.HTML(svg), left, nil
}

func planSpot(p defects.Photo, f frame, names map[string]string) report.PlanPhoto {
	spot := report.PlanPhoto{
		At: defects.LonLat{Lon: *p.Capture.Lon, Lat: *p.Capture.Lat}, ViewDeg: p.Capture.ViewAcross(),
		ElevationID: p.Place.ElevationID, Href: f.Path("photos", p.ID),
		Title: "photo of " + cmp.Or(names[p.Place.ElevationID], "no elevation yet"),
	}
	stated, _ := p.Capture.ErrorRadius()
	spot.ErrorM = f.view.FaceOptions().CircleM(stated)
	if deg, _, ok := p.Capture.TrueHeading(); ok {
		spot.Heading = &deg
	}
	if at, _ := p.TakenAt(f.zone); !at.IsZero() {
		spot.Title += ", " + f.When(at)
	}
	return spot
}
