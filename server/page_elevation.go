package server

import (
	"html/template"
	"net/http"
	"slices"
	"strconv"

	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/report"
	"storeyrod/web"
)

// elevationView is the drawing of one face with its snag list.
type elevationView struct {
	frame
	Elevation defects.Elevation
	List      defects.SnagList
	Lifts     []liftGroup
	Drawing   template.HTML
	Filter    *web.Form
	Query     string // of the filter, for the list's other forms
	Shown     []string
	MyGang    string
	Unfold    string // address with every lift open, "" when all are
	Bay, Lift int
	States    []defects.State
	Grades    []defects.Severity
	Options   filterOptions
	Recent    []defects.Reading
	Drawn     []defects.Reading // that the drawing marks
	MoreTicks bool              // there are older readings, which it does not mark
	Surveys   []web.Option
	Against   []web.Option
	Shade     *shadeView // nil without a survey chosen
}

// liftGroup is the part of a walk that is on one lift.
type liftGroup struct {
	Anchor string
	Title  string
	Open   bool
	Items  []defects.SnagItem
}

// unfolded is how many lines of a list are open at first: more than a few lifts
// of them are a heap on a phone.
const unfolded = 60

// liftsOf cuts a list in walking order where the lift changes. The lifts at the
// top are open until there are many lines; all of them are when asked.
func liftsOf(items []defects.SnagItem, all bool) []liftGroup {
	var out []liftGroup
	seen := map[string]int{}
	for i, item := range items {
		lift := item.Snag.Place.Lift
		if len(out) == 0 || items[i-1].Snag.Place.Lift != lift {
			g := liftGroup{Anchor: "lift-" + strconv.Itoa(lift), Title: "Lift " + strconv.Itoa(lift)}
			if lift == 0 {
				g.Anchor, g.Title = "lift-unclear", "Lift not stated"
			}
			if seen[g.Anchor]++; seen[g.Anchor] > 1 { // those with a lift but no bay come last
				g.Anchor += "-" + strconv.Itoa(seen[g.Anchor])
				g.Title += ", place unclear"
			}
			g.Open = all || len(items) <= unfolded || i < unfolded
			out = append(out, g)
		}
		last := &out[len(out)-1]
		last.Items = append(last.Items, item)
	}
	return out
}

func (s *Server) showElevation(c *gin.Context) error {
	f, err := s.onSite(c, "elevations")
	if err != nil {
		return err
	}
	ctx, a, id := c.Request.Context(), actorOf(c), c.Param("elevation")
	form := queryForm(c, "filter")
	filter, err := readListFilter(form.Values.Get)
	if err != nil {
		return err
	}
	list, err := s.reg.SnagList(ctx, a, f.Site.ID, id, filter)
	if err != nil {
		return err
	}
	readings, err := s.reg.ListReadings(ctx, a, register.ReadingFilter{SiteID: f.Site.ID, ElevationID: id}, largePage())
	if err != nil {
		return err
	}
	f.Trail = []navLink{{Title: f.Site.Name, Href: f.Path()}}
	v := elevationView{
		frame: f, Elevation: list.Elevation, List: list, Filter: form, Query: listQuery(form), MyGang: f.view.Gang,
		States: defects.States(), Grades: defects.Severities(), Recent: readings.Items[:min(len(readings.Items), 6)],
		Bay: filter.Bay, Lift: filter.Lift, MoreTicks: readings.Next != "",
	}
	v.Lifts = liftsOf(list.Items, form.Has("unfold", "yes"))
	if slices.ContainsFunc(v.Lifts, func(g liftGroup) bool { return !g.Open }) {
		v.Unfold = withQuery(c, "unfold", "yes")
	}
	if v.Options, err = s.filterOptions(ctx, a, f.Site.ID); err != nil {
		return err
	}
	v.Shown = shown(form, v.Options)
	if v.Shade, err = s.shading(ctx, a, &v); err != nil {
		return err
	}
	v.draw(readings.Items)
	return s.render(c, http.StatusOK, "elevation", v)
}

// withQuery is the address of this page with one parameter changed.
func withQuery(c *gin.Context, name, value string) string {
	q := c.Request.URL.Query()
	q.Set(name, value)
	q.Del("done")
	return c.Request.URL.Path + "?" + q.Encode()
}

func drawnSnag(f frame, sn defects.Snag) report.DrawnSnag {
	return report.DrawnSnag{
		Number: sn.Number, Place: sn.Place, Severity: sn.Severity, State: sn.State, Title: sn.Title,
		Href: f.Path("snags", strconv.Itoa(sn.Number)),
	}
}
