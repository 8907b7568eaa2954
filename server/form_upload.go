package server

import (
	"context"
	"errors"
	"mime/multipart"
	"net/http"
	"path"
	"slices"
	"strings"

	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/web"
)

// Bounds of a form with photos: how much of it is held in memory, and how many
// files one form may bring.
const (
	uploadMemory = 8 << 20
	uploadFiles  = 12
)

// readUpload reads a form that may bring photos. What does not fit in memory
// lies in temporary files, which go when the request ends. The server's library
// would see to that on its own request alone, and ours is a copy with the actor
// in its context.
func (s *Server) readUpload(c *gin.Context, prefix string) (*web.Form, []*multipart.FileHeader, error) {
	if !strings.HasPrefix(c.ContentType(), "multipart/") {
		form, err := readForm(c, prefix)
		return form, nil, err
	}
	c.Request.Body = http.MaxBytesReader(c.Writer, c.Request.Body, s.opt.MaxPhoto*uploadFiles+maxFormBytes)
	if err := c.Request.ParseMultipartForm(uploadMemory); err != nil {
		return nil, nil, badForm(err)
	}
	sent := c.Request.MultipartForm
	context.AfterFunc(c.Request.Context(), func() {
		if err := sent.RemoveAll(); err != nil {
			s.log.Warn("temporary files of a form stay behind", "err", err)
		}
	})
	f := web.NewForm(prefix)
	f.Values = sent.Value
	return f, sent.File["file"], nil
}

// takeFiles takes the files of a form in and answers the ids of its photos: the
// ones ticked and the new ones, which are ticked from now on. A file that is
// refused does not keep the others out; they are kept whatever becomes of the
// form.
func (s *Server) takeFiles(c *gin.Context, f *web.Form, files []*multipart.FileHeader, in register.PhotoInput) ([]string, error) {
	zone := s.zoneOfSite(c)
	var wrong []*defects.Error
	for _, file := range files {
		if file.Size == 0 {
			continue // an empty file field
		}
		p, err := s.takeFile(c, file, in)
		if e, mend := asRefusal(err); mend && mendable(e) {
			named := *e
			named.Field, named.Text = "file", plainFile(file.Filename)+": "+e.Text
			wrong = append(wrong, &named)
			continue
		}
		if err != nil {
			return nil, err
		}
		f.Taken = append(f.Taken, photoName(p, zone))
		if !slices.Contains(f.Values["photos"], p.ID) {
			f.Values["photos"] = append(f.Values["photos"], p.ID)
		}
	}
	return ticked(f), oneOf(wrong)
}

// oneOf makes one refusal of several, each a part of it.
func oneOf(wrong []*defects.Error) error {
	if len(wrong) == 0 {
		return nil
	}
	all := *wrong[0]
	if len(wrong) > 1 {
		for _, e := range wrong {
			all.Details = append(all.Details, defects.Detail{Field: e.Field, Code: e.CodeOrKind(), Text: e.Text})
		}
	}
	return &all
}

// plainFile is a file's name without the folders that some browsers send.
func plainFile(name string) string { return path.Base(strings.ReplaceAll(name, `\`, "/")) }

func (s *Server) takeFile(c *gin.Context, file *multipart.FileHeader, in register.PhotoInput) (p defects.Photo, err error) {
	body, err := file.Open()
	if err != nil {
		return p, err
	}
	defer func() { err = errors.Join(err, body.Close()) }()
	in.FileName = file.Filename
	p, _, err = s.reg.TakePhoto(c.Request.Context(), actorOf(c), c.Param("site"), body, in)
	return p, err
}
