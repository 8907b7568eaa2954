package server

import (
	"context"
	"io"
	"mime"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

// formMemory is how much of a multipart photo stays in memory; the rest is
// spooled to disk, so that memory does not grow with the photo.
const formMemory = 1 << 20

// PhotoIn is the path of one photo.
type PhotoIn struct {
	SiteIn
	ID string `path:"photo"`
}

type photoOut struct {
	ETag string `header:"ETag"`
	Body Photo
}

type photosIn struct {
	SiteIn
	Paging
	Elevation string `query:"elevation" doc:"elevation id"`
	Unplaced  bool   `query:"unplaced"`
	Offered   bool   `query:"offered" doc:"only those offered anew after the outlines changed"`
	Stage     string `query:"stage"`
}

type photosOut struct {
	Link string `header:"Link"`
	Body struct {
		Items []Photo `json:"items"`
	}
}

type hashesIn struct {
	SiteIn
	Body struct {
		SHA256 []string `json:"sha256" doc:"hashes of whole files, 64 digits of 0-9 and a-f each, at most 500"`
	}
}

// KnownPhoto is a photo that the site has, told by the hash of its bytes.
type KnownPhoto struct {
	SHA256 string `json:"sha256"`
	ID     string `json:"id"`
}

type hashesOut struct {
	Body struct {
		Known []KnownPhoto `json:"known"`
	}
}

type photoPatchIn struct {
	PhotoIn
	Changed
	Body struct {
		ElevationID *string `json:"elevation_id,omitempty" doc:"\"\" takes it off its wall"`
		Place       *Place  `json:"place,omitempty"`
		Stage       *string `json:"stage,omitempty"`
		Kind        *string `json:"kind,omitempty"`
		Note        *string `json:"note,omitempty"`
		LabelSeen   *bool   `json:"label_seen,omitempty"`
		ScaleSeen   *bool   `json:"scale_seen,omitempty"`
		Overrule    *string `json:"overrule,omitempty" doc:"reason for using a photo that the checks refuse"`
	}
}

func (a *api) photos() {
	reg := a.s.reg
	take := withBody(post("/sites/{site}/photos", "Take in a photo; the same bytes again answer 200 with the same photo. "+
		"What is known of it goes into the query or, in a multipart form, beside the part \"file\": "+strings.Join(photoFields, ", ")),
		"image/jpeg", "image/png", "image/webp", "image/heic", "application/octet-stream", "multipart/form-data")
	for _, name := range photoFields {
		if strings.HasSuffix(name, "_seen") {
			name += "?"
		}
		take = withParams(take, name+": what is known of the photo")
	}
	a.stream(withAnswer(take, "201", "application/json"), may(defects.AddPhoto), a.postPhoto)
	handle(a, get("/sites/{site}/photos", "Photos, the newest received first"), may(defects.ViewSite), a.listPhotos)
	handle(a, post("/sites/{site}/photos/known", "Which of these files the site has already, by SHA-256, so that they need not be sent. "+
		"It tells of those photos alone that the asker may see"), may(defects.ViewSite), a.knownPhotos)
	handle(a, get("/sites/{site}/photos/{photo}", "One photo"), may(defects.ViewSite), func(ctx context.Context, in *PhotoIn) (*photoOut, error) {
		on, placed, err := reg.PhotoOnWall(ctx, actorFrom(ctx), in.Site, in.ID, "")
		return photoAnswer(on.Photo, on, placed), err
	})
	handle(a, patch("/sites/{site}/photos/{photo}", "Place a photo, or overrule its checks with a reason"), may(defects.PlacePhoto), a.patchPhoto)
	for _, v := range []register.Variant{register.Original, register.Preview, register.Thumb} {
		who := may(defects.ViewSite)
		if v == register.Original {
			who = may(defects.ViewOriginal)
		}
		op := withAnswer(get("/sites/{site}/photos/{photo}/"+string(v), "The photo's bytes: "+string(v)), "200", "image/*")
		if v != register.Original {
			op = withParams(op, "v: view_copies_seq of the photo; with the present one the answer may be kept for good")
		}
		if v == register.Preview {
			op = withParams(op, "caption: 1 adds a strip below the picture with site, place, time, number and evidence grade")
		}
		a.stream(op, who, func(c *gin.Context) error { return a.s.servePhoto(c, v) })
	}
	a.photoWork()
}

func (a *api) listPhotos(ctx context.Context, in *photosIn) (*photosOut, error) {
	if err := stageFilter(in.Stage); err != nil {
		return nil, err
	}
	if err := a.s.elevationFilter(ctx, actorFrom(ctx), in.Site, in.Elevation); err != nil {
		return nil, err
	}
	page, err := a.s.reg.ListPhotos(ctx, actorFrom(ctx), register.PhotoFilter{
		SiteID: in.Site, ElevationID: in.Elevation,
		Unplaced: in.Unplaced, Offered: in.Offered, Stage: in.Stage,
	}, in.page())
	if err != nil {
		return nil, err
	}
	unplaced, offered := "", ""
	if in.Unplaced {
		unplaced = "true"
	}
	if in.Offered {
		offered = "true"
	}
	out := &photosOut{Link: nextLink("/sites/"+in.Site+"/photos",
		query("limit", in.limit(), "elevation", in.Elevation, "stage", in.Stage, "unplaced", unplaced, "offered", offered), page.Next)}
	out.Body.Items = each(page.Items, photoOf)
	return out, nil
}

func (a *api) knownPhotos(ctx context.Context, in *hashesIn) (*hashesOut, error) {
	found, err := a.s.reg.PhotosByHash(ctx, actorFrom(ctx), in.Site, in.Body.SHA256)
	out := &hashesOut{}
	out.Body.Known = each(found, func(p defects.Photo) KnownPhoto { return KnownPhoto{SHA256: p.SHA256, ID: p.ID} })
	return out, err
}

func (a *api) patchPhoto(ctx context.Context, in *photoPatchIn) (*photoOut, error) {
	version, err := ifMatch(in.IfMatch)
	if err != nil {
		return nil, err
	}
	b := in.Body
	p := register.PhotoPatch{
		ElevationID: b.ElevationID, Stage: b.Stage, Kind: b.Kind, Note: b.Note,
		LabelSeen: b.LabelSeen, ScaleSeen: b.ScaleSeen, Overrule: b.Overrule,
	}
	if b.Place != nil {
		place, err := b.Place.place()
		if err != nil {
			return nil, err
		}
		p.Place = &place
	}
	photo, err := a.s.reg.UpdatePhoto(ctx, actorFrom(ctx), in.Site, in.ID, version, p)
	if err != nil {
		return nil, err
	}
	on, placed, err := a.s.reg.PhotoOnWall(ctx, actorFrom(ctx), in.Site, in.ID, "")
	return photoAnswer(photo, on, placed), err
}

// photoAnswer is one photo with what it takes in of its wall.
func photoAnswer(p defects.Photo, on register.OnWall, placed bool) *photoOut {
	out := &photoOut{ETag: etag(p.Version), Body: photoOf(p)}
	if placed {
		out.Body.OnWall = onWallOf(on)
	}
	return out
}

// postPhoto takes one photo, as the whole body or as the part "file" of a form.
func (a *api) postPhoto(c *gin.Context) error {
	body, fields, name, err := photoBody(c)
	if err != nil {
		return err
	}
	defer body.Close() //nolint:errcheck // read side
	in, err := photoInput(fields)
	if err != nil {
		return err
	}
	if in.FileName == "" {
		in.FileName = name
	}
	photo, known, err := a.s.reg.TakePhoto(c.Request.Context(), actorOf(c), c.Param("site"), body, in)
	if err != nil {
		return err
	}
	status := http.StatusCreated
	if known {
		status = http.StatusOK
	}
	c.Header("Location", apiRoot+"/sites/"+c.Param("site")+"/photos/"+photo.ID)
	c.Header("ETag", etag(photo.Version))
	c.JSON(status, photoOf(photo))
	return nil
}

// photoBody finds the bytes and the fields in either form of request.
func photoBody(c *gin.Context) (io.ReadCloser, url.Values, string, error) {
	kind, _, _ := mime.ParseMediaType(c.GetHeader("Content-Type"))
	if kind != "multipart/form-data" {
		return c.Request.Body, c.Request.URL.Query(), "", nil
	}
	if err := c.Request.ParseMultipartForm(formMemory); err != nil {
		return nil, nil, "", multipartRefusal(err)
	}
	file, header, err := c.Request.FormFile("file")
	if err != nil {
		_ = c.Request.MultipartForm.RemoveAll()
		return nil, nil, "", defects.RefuseField(defects.Invalid, "file", "missing", "send the photo as the part \"file\"")
	}
	return spooled{file, c.Request.MultipartForm.RemoveAll}, c.Request.Form, header.Filename, nil
}

// spooled removes a form's spooled files when the photo has been read.
type spooled struct {
	io.ReadCloser
	remove func() error
}

func (s spooled) Close() error {
	_ = s.ReadCloser.Close()
	return s.remove()
}

func multipartRefusal(err error) error {
	if strings.Contains(err.Error(), "too large") {
		return defects.Refuse(defects.TooLarge, "body_too_large", "the form is larger than is taken")
	}
	return &defects.Error{Kind: defects.Invalid, Code: "bad_form", Text: "the form cannot be read", Err: err}
}

// photoFields are the names a photo's facts are sent under.
var photoFields = []string{
	"name", "stage", "kind", "note", "gang", "elevation", "bay", "lift", "x_m", "z_m", "opening", "zone",
	"label_seen", "scale_seen",
}

func photoInput(v url.Values) (register.PhotoInput, error) {
	for name := range v {
		if !slices.Contains(photoFields, name) {
			return register.PhotoInput{}, defects.RefuseField(defects.Invalid, name, "unknown_field", "no such field of a photo")
		}
	}
	in := register.PhotoInput{
		FileName: v.Get("name"), Stage: v.Get("stage"), Kind: v.Get("kind"), Note: v.Get("note"),
		Gang: v.Get("gang"),
	}
	in.Place = defects.Place{ElevationID: v.Get("elevation"), Opening: v.Get("opening"), Zone: defects.Zone(v.Get("zone"))}
	var err error
	if in.LabelSeen, err = trueOrFalse("label_seen", v.Get("label_seen")); err != nil {
		return in, err
	}
	if in.ScaleSeen, err = trueOrFalse("scale_seen", v.Get("scale_seen")); err != nil {
		return in, err
	}
	if in.Place.Bay, err = whole(v, "bay"); err != nil {
		return in, err
	}
	if in.Place.Lift, err = whole(v, "lift"); err != nil {
		return in, err
	}
	if in.Place.X, err = Exact(v.Get("x_m")).mm("x_m"); err != nil {
		return in, err
	}
	in.Place.Z, err = Exact(v.Get("z_m")).mm("z_m")
	return in, err
}

func whole(v url.Values, name string) (int, error) {
	text := v.Get(name)
	if text == "" {
		return 0, nil
	}
	n, err := strconv.Atoi(text)
	if err != nil || n < 0 {
		return 0, defects.RefuseField(defects.Invalid, name, "bad_number", "write a whole number")
	}
	return n, nil
}
