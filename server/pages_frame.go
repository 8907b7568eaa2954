package server

import (
	"html/template"
	"strconv"
	"time"

	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/report"
)

// navLink is one step of the trail, or one page of a site.
type navLink struct{ Name, Title, Href string }

// notice is what a page says at its top. Class is good, bad, ask or empty.
type notice struct {
	Class string
	Text  string
	Parts []string
}

// siteHead is what the sheet says of the site.
type siteHead struct{ ID, Name string }

// frame is what every page has around its content.
type frame struct {
	Actor    register.Actor
	Role     string
	Site     siteHead
	Invented bool
	Groups   []navGroup // of the site's menu
	Trail    []navLink
	Notice   *notice
	Now      string
	Version  string

	view  register.SiteView
	zone  *time.Location
	today string // "2006-01-02" in the zone
}

// whenForm is how pages write an instant.
const whenForm = "2 Jan 2006, 15:04"

// When prints an instant in the site's zone.
func (f frame) When(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.In(f.zone).Format(whenForm)
}

// May reports whether the person's role holds a permission, so that a page
// offers only what the register will take.
func (f frame) May(p string) bool { return f.view.Role.May(defects.Permission(p)) }

// Path builds an address within the site.
func (f frame) Path(parts ...string) string { return sitePath(f.Site.ID, parts...) }

// Shot is the address of a view copy, which names its very bytes once it is made.
func (f frame) Shot(p defects.Photo, variant string) string {
	address := f.Path("photos", p.ID, variant)
	if p.Derived == "ready" {
		address += "?v=" + strconv.FormatInt(p.CopiesSeq, 10)
	}
	return address
}

// Hatch is the legend's sample of a state.
func (f frame) Hatch(s defects.State) template.HTML { return template.HTML(report.HatchSVG(s)) }

// Outline is the legend's sample of a severity.
func (f frame) Outline(s defects.Severity) template.HTML { return template.HTML(report.SeveritySVG(s)) }

// plain is the frame of a page outside any site.
func (s *Server) plain(c *gin.Context, trail ...navLink) frame {
	return frame{
		Actor: actorOf(c), Trail: trail, Version: s.opt.Version, Invented: s.opt.Invented, zone: time.UTC,
		Now: s.reg.Now().Format("2 Jan 2006, 15:04 MST"), Notice: doneNotice(c),
	}
}

// onSite is the frame of a page of the site in the address.
func (s *Server) onSite(c *gin.Context, section string, trail ...navLink) (frame, error) {
	view, err := s.reg.SiteHead(c.Request.Context(), actorOf(c), c.Param("site"))
	if err != nil {
		return frame{}, err
	}
	f := s.plain(c, trail...)
	f.view, f.zone = view, zoneOf(view.Site)
	c.Set(zoneKey, f.zone)
	f.Site, f.Invented, f.Role = siteHead{ID: view.ID, Name: view.Name}, view.Demo, string(view.Role)
	if f.Role == "" {
		f.Role = "administrator"
	}
	f.Groups = menuOf(view, section)
	f.today = s.reg.Now().In(f.zone).Format(time.DateOnly)
	f.Now = s.reg.Now().In(f.zone).Format("2 Jan 2006, 15:04 MST")
	return f, nil
}

// doneNotice is what a page says after a write; the address names it by a word,
// so that nobody can put a text of his own on the page.
func doneNotice(c *gin.Context) *notice {
	texts := map[string]string{
		"saved":            "Saved.",
		"added":            "Added.",
		"copied":           "Copied. Each elevation keeps its name, side and length.",
		"reshaped":         "Saved. These photos would show another wall now; they stay where they are until somebody places them.",
		"made":             "The site is made.",
		"measured":         "The reading is kept and chosen below; what you had typed is there still.",
		"removed":          "Taken away; the log keeps it.",
		"raised":           "The snag is raised.",
		"stepped":          "The step is taken.",
		"placed":           "The photo is placed.",
		"retried":          "Another try is made now.",
		"withdrawn":        "The reading is withdrawn. It stays in the register.",
		"survey-withdrawn": "The survey is withdrawn. It stays in the register.",
		"line-withdrawn":   "The line is withdrawn. It stays in the log.",
		"noted":            "The line is in the log.",
		"rejudged":         "Judged anew. The old verdicts stay in the log.",
		"password":         "The password is changed; your other sessions are over.",
		"ended":            "Ended.",
		"stated":           "What the designer states is noted with the set.",
		"released":         "The answer to the hold point is recorded.",
	}
	if text := texts[c.Query("done")]; text != "" {
		return &notice{Class: "good", Text: text}
	}
	return nil
}
