package server

import (
	"html/template"
	"net/http"
	"net/url"
	"slices"
	"strconv"

	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/report"
	"storeyrod/web"
)

// photoView is one photo: what it says of itself and where it belongs.
type photoView struct {
	frame
	Photo    defects.Photo
	Taken    string
	Sure     bool
	Wall     string
	Bay      int
	Lift     int
	Place    *web.Form
	Overrule *web.Form
	Walls    []web.Option
	Stages   []web.Option
	History  []historyLine
	Alike    register.AlikePhotos
	Job      register.Job
	Waiting  bool // for its view copies
	Original bool // may be opened
	Plan     template.HTML
	Ground   string // whose map lies under the plan, "" without one
	OnWall   *photoWall
	Raise    string // address of the form that raises a snag from it
}

// photoWall is a photo against the elevation it is on, or would be put on.
type photoWall struct {
	register.OnWall
	Name     string
	Here     bool // the photo is on this elevation
	Doubted  bool // its own facts contradict that
	Exact    bool // and a person set its place with x and z
	FromBay  int
	ToBay    int
	Drawing  template.HTML
	Estimate []estimate
}

// estimate is one line of what a picture takes in.
type estimate struct {
	Name string
	defects.Span
}

// photoPage is a photo's page; place is the form that places it as it was typed, nil
// as it stands.
func (s *Server) photoPage(c *gin.Context, place *web.Form) (photoView, error) {
	f, err := s.onSite(c, "photos")
	if err != nil {
		return photoView{}, err
	}
	ctx, a := c.Request.Context(), actorOf(c)
	p, err := s.reg.Photo(ctx, a, f.Site.ID, c.Param("photo"))
	if err != nil {
		return photoView{}, err
	}
	walls, err := s.reg.Elevations(ctx, a, f.Site.ID)
	if err != nil {
		return photoView{}, err
	}
	f.Trail = []navLink{{Title: "Photos", Href: f.Path("photos")}}
	v := photoView{
		frame: f, Photo: p, Walls: wallOptions(walls, "on no elevation"), Stages: stageOptions("not stated"),
		Wall: wallNames(walls)[p.Place.ElevationID], Place: place, Overrule: web.NewForm("overrule"),
	}
	if v.Place == nil {
		v.Place = placeForm(p)
	}
	v.Overrule.Set("version", strconv.Itoa(p.Version)).Set("overrule", p.Overruled)
	if at, sure := p.TakenAt(f.zone); !at.IsZero() {
		v.Taken, v.Sure = f.When(at), sure
	}
	v.Original = defects.Membership{AccountID: a.AccountID, Role: f.view.Role, Gang: f.view.Gang}.MayOpenOriginal(p)
	if p.Capture.HasPlace() {
		v.Ground = s.allowGround(c)
		if v.Plan, _, err = s.photoPlan(ctx, a, f, walls, []defects.Photo{p}, ""); err != nil {
			return photoView{}, err
		}
	}
	if err := s.loadOnWall(c, &v, walls); err != nil {
		return v, err
	}
	return v, s.loadPhotoLife(c, &v, walls)
}

// loadPhotoLife adds what became of a photo.
func (s *Server) loadPhotoLife(c *gin.Context, v *photoView, walls []defects.Elevation) (err error) {
	ctx, a, site, id := c.Request.Context(), actorOf(c), v.Site.ID, v.Photo.ID
	if v.Alike, err = s.reg.Alike(ctx, a, site, id); err != nil {
		return err
	}
	if v.Job, v.Waiting, err = s.reg.CopiesJob(ctx, a, site, id); err != nil {
		return err
	}
	v.Waiting = v.Waiting && v.Photo.Derived == ""
	if !v.view.Role.May(defects.ViewLog) {
		return nil
	}
	entries, err := s.reg.EntriesOf(ctx, a, site, "photo", id)
	v.History = photoHistory(entries, walls)
	return err
}

// loadOnWall draws the elevation that the form names, which is the photo's own
// unless another was chosen, with what the picture takes in of it.
func (s *Server) loadOnWall(c *gin.Context, v *photoView, walls []defects.Elevation) error {
	p := v.Photo
	if e, ok := wallOf(walls, p.Place.ElevationID); ok {
		v.Bay, v.Lift = e.CellOf(p.Place)
		if v.May(string(defects.RaiseSnag)) {
			v.Raise = raiseFrom(v.frame, p, v.Bay, v.Lift)
		}
	}
	id := p.Place.ElevationID
	if v.May(string(defects.PlacePhoto)) {
		id = typed(v.Place, "elevation")
	}
	if _, ok := wallOf(walls, id); !ok {
		return nil
	}
	on, _, err := s.reg.PhotoOnWall(c.Request.Context(), actorOf(c), v.Site.ID, p.ID, id)
	if err != nil {
		return err
	}
	w := &photoWall{OnWall: on, Name: wallNames(walls)[id], Here: id == p.Place.ElevationID}
	d := report.Drawing{Elevation: on.Elevation, Photo: &report.DrawnPhoto{}}
	if on.Known {
		d.Photo.Stretch = &on.Stretch
		w.Estimate = estimatesOf(on.Stretch)
		w.FromBay, w.ToBay = baysOf(on.Elevation, on.Stretch)
	}
	if w.Here {
		w.Doubted = slices.ContainsFunc(p.Flags, func(f defects.Flag) bool { return f.Code == defects.FlagUnlikelyWall })
		d.Bay, d.Lift, d.Photo.X, d.Photo.Z = v.Bay, v.Lift, p.Place.X, p.Place.Z
		w.Exact = p.PlacedBy == defects.PlacedPerson && p.Place.X != nil && p.Place.Z != nil
	}
	w.Drawing = template.HTML(report.ElevationSVG(d))
	v.OnWall = w
	return nil
}

// raiseFrom is where a snag is raised from a photo, at its place.
func raiseFrom(f frame, p defects.Photo, bay, lift int) string {
	q := url.Values{"elevation": {p.Place.ElevationID}, "photos": {p.ID}}
	set := func(name, value string) {
		if value != "" && value != "0" {
			q.Set(name, value)
		}
	}
	set("opening", p.Place.Opening)
	if x, z := p.Place.X, p.Place.Z; x != nil && z != nil {
		q.Set("x", x.Metres().String())
		q.Set("z", z.Metres().String())
	} else {
		set("bay", strconv.Itoa(bay))
		set("lift", strconv.Itoa(lift))
	}
	return f.Path("snags", "new") + "?" + q.Encode()
}

func wallOf(walls []defects.Elevation, id string) (defects.Elevation, bool) {
	for _, e := range walls {
		if e.ID == id {
			return e, true
		}
	}
	return defects.Elevation{}, false
}

// estimatesOf lists what is known of a stretch, the edges from left to right.
func estimatesOf(st defects.Stretch) (out []estimate) {
	add := func(name string, s *defects.Span) {
		if s != nil {
			out = append(out, estimate{name, *s})
		}
	}
	add("left edge, x", st.From)
	add("middle, x", &st.Middle)
	add("right edge, x", st.To)
	add("lower edge, z", st.Bottom)
	add("upper edge, z", st.Top)
	return out
}

// baysOf are the bays between the edges, 0 where there are none.
func baysOf(e defects.Elevation, st defects.Stretch) (from, to int) {
	if st.From == nil || len(e.Bays) == 0 {
		return 0, 0
	}
	at := func(metres float64) int { return e.BayAt(min(max(defects.MM(metres*1000), 0), e.Length)) }
	return at(st.From.Best), at(st.To.Best)
}

// showPhoto shows a photo; with "draw" in the address, the form that places it as
// typed, with the elevation that was chosen in it.
func (s *Server) showPhoto(c *gin.Context) error {
	var form *web.Form
	if c.Query("draw") != "" {
		form = queryForm(c, "place")
	}
	v, err := s.photoPage(c, form)
	if err != nil {
		return err
	}
	v.Place.Values.Set("version", strconv.Itoa(v.Photo.Version))
	return s.render(c, http.StatusOK, "photo", v)
}
