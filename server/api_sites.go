package server

import (
	"context"
	"net/http"

	"github.com/danielgtaylor/huma/v2"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

// Site is a site as programs see it.
type Site struct {
	ID        string      `json:"id"`
	Name      string      `json:"name"`
	TimeZone  string      `json:"time_zone"`
	Rule      string      `json:"decision_rule" enum:"simple,guarded,four-way"`
	Guard     Exact       `json:"guard_factor" doc:"r of the guard band w = r·U"`
	Schedules []string    `json:"schedules" doc:"tolerance schedules in force, the governing one first, as name@version"`
	Fence     [][]float64 `json:"fence,omitempty" doc:"ring of lon, lat around the site"`
	Threshold Exact       `json:"face_threshold" doc:"chance from which a photo is put on a wall without asking"`
	Accuracy  string      `json:"accuracy_reading" enum:"phone,68,95" doc:"how the accuracy that photos state is read: as phones do, or as holding so many percent of positions"`
	Invented  bool        `json:"invented_data,omitempty"`
	Role      string      `json:"role,omitempty" doc:"yours on this site"`
	Open      int         `json:"open_snags"`
	Version   int         `json:"version"`
	CreatedAt string      `json:"created_at"`
}

func siteOf(v register.SiteView) Site {
	s := Site{
		ID: v.ID, Name: v.Name, TimeZone: v.TimeZone, Rule: string(v.Rule), Guard: Exact(v.Guard.String()),
		Schedules: each(v.Schedules, itself), Invented: v.Demo, Role: string(v.Role), Open: v.Open, Version: v.Version,
		CreatedAt: stamp(v.CreatedAt), Threshold: Exact(faceThreshold(v.Site)), Accuracy: readingName(v.Accuracy),
	}
	for _, p := range v.Fence {
		s.Fence = append(s.Fence, []float64{p.Lon, p.Lat})
	}
	return s
}

type siteOut struct {
	ETag     string `header:"ETag"`
	Location string `header:"Location"`
	Body     Site
}

type sitesOut struct {
	Body struct {
		Items []Site `json:"items"`
	}
}

type newSiteIn struct {
	Body struct {
		Name      string   `json:"name"`
		TimeZone  string   `json:"time_zone,omitempty" doc:"IANA name" default:"Europe/London"`
		Rule      string   `json:"decision_rule,omitempty" enum:"simple,guarded,four-way"`
		Guard     Exact    `json:"guard_factor,omitempty"`
		Schedules []string `json:"schedules,omitempty"`
	}
}

type sitePatchIn struct {
	SiteIn
	Changed
	Body struct {
		Name      *string      `json:"name,omitempty"`
		TimeZone  *string      `json:"time_zone,omitempty"`
		Rule      *string      `json:"decision_rule,omitempty" enum:"simple,guarded,four-way"`
		Guard     Exact        `json:"guard_factor,omitempty"`
		Schedules *[]string    `json:"schedules,omitempty"`
		Fence     *[][]float64 `json:"fence,omitempty" doc:"ring of lon, lat; empty = derived from the buildings"`
		Threshold Exact        `json:"face_threshold,omitempty" doc:"above 0.5; for photos placed from now on"`
		Accuracy  string       `json:"accuracy_reading,omitempty" enum:"phone,68,95"`
	}
}

func (a *api) sites() {
	reg := a.s.reg
	handle(a, get("/sites", "Sites you belong to"), signedIn, func(ctx context.Context, _ *struct{}) (*sitesOut, error) {
		views, err := reg.Sites(ctx, actorFrom(ctx))
		out := &sitesOut{}
		out.Body.Items = each(views, siteOf)
		return out, err
	})
	handle(a, created(post("/sites", "Make a site")), admins, func(ctx context.Context, in *newSiteIn) (*siteOut, error) {
		guard, err := in.Body.Guard.decimal("guard_factor")
		if err != nil {
			return nil, err
		}
		site, err := reg.CreateSite(ctx, actorFrom(ctx), register.NewSite{
			Name: in.Body.Name, TimeZone: in.Body.TimeZone,
			Rule: defects.Rule(in.Body.Rule), Guard: guard, Schedules: in.Body.Schedules,
		})
		if err != nil {
			return nil, err
		}
		return siteAnswer(register.SiteView{Site: site, Role: defects.Manager}), nil
	})
	handle(a, get("/sites/{site}", "One site"), may(defects.ViewSite), func(ctx context.Context, in *SiteIn) (*siteOut, error) {
		view, err := reg.Site(ctx, actorFrom(ctx), in.Site)
		return siteAnswer(view), err
	})
	handle(a, patch("/sites/{site}", "Change a site's name, zone, fence, decision rule, schedules, or by what photos are placed"), may(defects.EditSite), a.patchSite)
}

func (a *api) patchSite(ctx context.Context, in *sitePatchIn) (*siteOut, error) {
	version, err := ifMatch(in.IfMatch)
	if err != nil {
		return nil, err
	}
	guard, err := in.Body.Guard.decimal("guard_factor")
	if err != nil {
		return nil, err
	}
	p := register.SitePatch{
		Name: in.Body.Name, TimeZone: in.Body.TimeZone, Guard: guard,
		Rule: (*defects.Rule)(in.Body.Rule), Schedules: in.Body.Schedules,
	}
	if p.FaceThreshold, err = in.Body.Threshold.decimal("face_threshold"); err != nil {
		return nil, err
	}
	if in.Body.Accuracy != "" {
		reading := accuracyNamed(in.Body.Accuracy)
		p.Accuracy = &reading
	}
	if in.Body.Fence != nil {
		ring, err := lonLats(*in.Body.Fence, "fence")
		if err != nil {
			return nil, err
		}
		p.Fence = &ring
	}
	if _, err := a.s.reg.UpdateSite(ctx, actorFrom(ctx), in.Site, version, p); err != nil {
		return nil, err
	}
	view, err := a.s.reg.Site(ctx, actorFrom(ctx), in.Site)
	return siteAnswer(view), err
}

func siteAnswer(v register.SiteView) *siteOut {
	return &siteOut{ETag: etag(v.Version), Location: apiRoot + "/sites/" + v.ID, Body: siteOf(v)}
}

// lonLats reads positions in the order of RFC 7946.
func lonLats(ring [][]float64, field string) ([]defects.LonLat, error) {
	out := make([]defects.LonLat, 0, len(ring))
	for _, p := range ring {
		if len(p) != 2 {
			return nil, defects.RefuseField(defects.Invalid, field, "bad_position", "give each position as [lon, lat]")
		}
		out = append(out, defects.LonLat{Lon: p[0], Lat: p[1]})
	}
	return out, nil
}

// created marks an operation that answers 201.
func created(op huma.Operation) huma.Operation {
	op.DefaultStatus = http.StatusCreated
	return op
}
