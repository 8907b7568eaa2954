package server

import (
	"context"
	"io"
	"net/http"
	"strconv"
	"strings"

	"github.com/danielgtaylor/huma/v2"
	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

// Headers of our own on the answer that completes an upload.
const (
	photoHeader  = "Storeyrod-Photo"  // address of the photo
	answerHeader = "Storeyrod-Answer" // "taken" or "known"
)

// drainMost is how much of a refused piece is still read, so that its sender
// gets to see the answer.
const drainMost = 8 << 20

// Upload is a photo that comes piece by piece, as programs see it.
type Upload struct {
	ID       string            `json:"id"`
	Offset   int64             `json:"offset" doc:"bytes that are safe; go on from here"`
	Length   int64             `json:"length" doc:"bytes of the whole file"`
	State    string            `json:"state" enum:"open,taken,known" doc:"known: the site had these bytes already"`
	Expires  string            `json:"expires" doc:"until when more bytes are waited for, or the outcome can be asked for"`
	Metadata map[string]string `json:"metadata" doc:"as sent, decoded"`
	PhotoID  string            `json:"photo_id,omitempty" doc:"once it is finished"`
	Photo    string            `json:"photo,omitempty" doc:"address of the photo"`
}

func uploadOf(u register.Upload) Upload {
	metadata, _ := parseMetadata(u.Metadata) // was read when it came
	out := Upload{
		ID: u.ID, Offset: u.Offset, Length: u.Length, State: string(u.State), Expires: stamp(u.ExpiresAt),
		Metadata: metadata, PhotoID: u.PhotoID,
	}
	if u.PhotoID != "" {
		out.Photo = photoPath(u)
	}
	return out
}

func photoPath(u register.Upload) string {
	return apiRoot + "/sites/" + u.SiteID + "/photos/" + u.PhotoID
}

type uploadsOut struct {
	Body struct {
		Items []Upload `json:"items"`
	}
}

func (a *api) uploads() {
	who := may(defects.AddPhoto)
	const all, one = "/sites/{site}/uploads", "/sites/{site}/uploads/{upload}"
	handle(a, get(all, "Your unfinished uploads, the oldest first"), who, func(ctx context.Context, in *SiteIn) (*uploadsOut, error) {
		list, err := a.s.reg.OpenUploads(ctx, actorFrom(ctx), in.Site)
		out := &uploadsOut{}
		out.Body.Items = each(list, uploadOf)
		return out, err
	})
	facts := strings.Join(photoFields, ", ")
	a.stream(tusOperation("OPTIONS", all, "What is spoken here of tus, the protocol of resumable uploads (tus.io), 1.0.0", "204"), who, a.tusOptions)
	a.stream(withHeaders(withBody(tusOperation("POST", all, "Begin an upload (tus creation, creation-with-upload). A deferred length is not taken", "201"), tusBody),
		"Upload-Length: bytes of the whole file, required", "Upload-Metadata: what is known of the photo, by the names "+facts+
			"; filename means name; filetype, type and fingerprint say nothing of the photo and are kept for the client",
		"Upload-Checksum: of the body"), who, a.postUpload)
	a.stream(tusOperation("GET", one, "How far an upload is and what became of it; HEAD answers the headers of tus", "200"), who, a.getUpload)
	a.stream(withHeaders(withBody(tusOperation("PATCH", one, "Send a piece. The last one answers the photo's address in "+photoHeader+
		" and taken or known in "+answerHeader+"; 409 for a wrong offset, 410 after its time, 423 while another sends, 460 for a wrong checksum", "204"), tusBody),
		"Upload-Offset: where the piece begins, required", "Upload-Checksum: of the body, sha256 or sha1"), who, a.patchUpload)
	a.stream(tusOperation("DELETE", one, "Give an upload up (tus termination)", "204"), who, a.deleteUpload)
}

func tusOperation(method, path, summary, status string) huma.Operation {
	op := huma.Operation{Method: method, Path: path, Summary: summary, Tags: []string{tagOf(path)}}
	op.Responses = map[string]*huma.Response{status: {Description: "done"}}
	if method == http.MethodGet {
		return withAnswer(op, status, "application/json")
	}
	if method == http.MethodOptions {
		return op
	}
	return withHeaders(op, "Tus-Resumable: 1.0.0, required")
}

// withHeaders declares headers as "name: what it is".
func withHeaders(op huma.Operation, headers ...string) huma.Operation {
	for _, h := range headers {
		name, doc, _ := strings.Cut(h, ": ")
		op.Parameters = append(op.Parameters, &huma.Param{Name: name, In: "header", Description: doc, Schema: &huma.Schema{Type: huma.TypeString}})
	}
	return op
}

func (a *api) tusOptions(c *gin.Context) error {
	if err := a.s.reg.MayUpload(c.Request.Context(), actorOf(c), c.Param("site")); err != nil {
		return err
	}
	a.s.tusHeaders(c)
	c.Header("Tus-Extension", tusExtensions)
	c.Header("Tus-Checksum-Algorithm", tusChecksums)
	c.Status(http.StatusNoContent)
	return nil
}

func (a *api) postUpload(c *gin.Context) error {
	if err := a.s.speakTus(c); err != nil {
		return err
	}
	n, err := newUpload(c)
	if err != nil {
		return err
	}
	u, err := a.s.reg.BeginUpload(c.Request.Context(), actorOf(c), c.Param("site"), n)
	if err != nil {
		return err
	}
	if c.ContentType() == tusBody {
		if u, err = a.append(c, u.ID, 0); err != nil {
			return err
		}
	}
	c.Header("Location", apiRoot+"/sites/"+u.SiteID+"/uploads/"+u.ID)
	tellUpload(c, u)
	c.Status(http.StatusCreated)
	return nil
}

// speakTus begins an answer of the protocol. Who may not upload here learns
// that before anything of the protocol.
func (s *Server) speakTus(c *gin.Context) error {
	if err := s.reg.MayUpload(c.Request.Context(), actorOf(c), c.Param("site")); err != nil {
		return err
	}
	s.tusHeaders(c)
	return needTus(c)
}

// newUpload reads the headers of a creation.
func newUpload(c *gin.Context) (n register.NewUpload, err error) {
	if c.GetHeader("Upload-Defer-Length") != "" {
		return n, badHeader("Upload-Defer-Length", "the length must be known; send Upload-Length")
	}
	if c.GetHeader("Upload-Concat") != "" {
		return n, badHeader("Upload-Concat", "uploads are not put together here")
	}
	if n.Length, err = byteCount("Upload-Length", c.GetHeader("Upload-Length")); err != nil {
		return n, err
	}
	n.Metadata = c.GetHeader("Upload-Metadata")
	metadata, err := parseMetadata(n.Metadata)
	if err != nil {
		return n, err
	}
	fields, err := photoMetadata(metadata)
	if err != nil {
		return n, err
	}
	n.Input, err = photoInput(fields)
	return n, err
}

// append sends the body of a request to an upload.
func (a *api) append(c *gin.Context, id string, offset int64) (register.Upload, error) {
	h, sum, err := parseChecksum(c.GetHeader("Upload-Checksum"))
	if err != nil {
		return register.Upload{}, err
	}
	u, err := a.s.reg.AppendUpload(c.Request.Context(), actorOf(c), c.Param("site"), id,
		register.Piece{Offset: offset, Body: c.Request.Body, Hash: h, Sum: sum})
	if _, refused := asRefusal(err); refused {
		_, _ = io.CopyN(io.Discard, c.Request.Body, drainMost) // only for the sender's sake
	}
	return u, err
}

// tellUpload says how far an upload is, in the headers of the protocol.
func tellUpload(c *gin.Context, u register.Upload) {
	c.Header("Upload-Offset", strconv.FormatInt(u.Offset, 10))
	c.Header("Upload-Expires", u.ExpiresAt.UTC().Format(http.TimeFormat))
	if u.PhotoID != "" {
		c.Header(photoHeader, photoPath(u))
		c.Header(answerHeader, string(u.State))
	}
}

func (a *api) getUpload(c *gin.Context) error {
	u, err := a.s.reg.Upload(c.Request.Context(), actorOf(c), c.Param("site"), c.Param("upload"))
	a.s.tusHeaders(c)
	if err != nil {
		return err
	}
	tellUpload(c, u)
	c.Header("Upload-Length", strconv.FormatInt(u.Length, 10))
	if u.Metadata != "" {
		c.Header("Upload-Metadata", u.Metadata)
	}
	c.JSON(http.StatusOK, uploadOf(u))
	return nil
}

func (a *api) patchUpload(c *gin.Context) error {
	if err := a.s.speakTus(c); err != nil {
		return err
	}
	if c.ContentType() != tusBody {
		return defects.RefuseField(defects.UnsupportedType, "Content-Type", "bad_content_type", "send a piece as "+tusBody)
	}
	offset, err := byteCount("Upload-Offset", c.GetHeader("Upload-Offset"))
	if err != nil {
		return err
	}
	u, err := a.append(c, c.Param("upload"), offset)
	if err != nil {
		return err
	}
	tellUpload(c, u)
	c.Status(http.StatusNoContent)
	return nil
}

func (a *api) deleteUpload(c *gin.Context) error {
	if err := a.s.speakTus(c); err != nil {
		return err
	}
	if err := a.s.reg.EndUpload(c.Request.Context(), actorOf(c), c.Param("site"), c.Param("upload")); err != nil {
		return err
	}
	c.Status(http.StatusNoContent)
	return nil
}
