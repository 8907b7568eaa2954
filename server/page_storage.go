package server

import (
	"fmt"
	"net/http"
	"strconv"

	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/web"
)

func (s *Server) addStoragePages() {
	s.page(http.MethodGet, "/sites/:site/storage", may(defects.ViewSite), s.showStorage)
	s.page(http.MethodPost, "/sites/:site/storage", may(defects.SetQuota), s.postStorage)
}

// storageView is what a site's photos take and may take.
type storageView struct {
	frame
	Form    *web.Form
	Storage register.Storage
}

// Megabytes prints a number of bytes in the unit that the quota is typed in; what
// is there is rounded up.
func (storageView) Megabytes(bytes int64) string {
	return fmt.Sprintf("%d MB", (bytes+1<<20-1)>>20)
}

// Left is what there is room for, rounded down.
func (v storageView) Left() string { return fmt.Sprintf("%d MB", v.Storage.Left()>>20) }

func (s *Server) storagePage(c *gin.Context) (storageView, error) {
	f, err := s.onSite(c, "elevations")
	if err != nil {
		return storageView{}, err
	}
	f.Trail = []navLink{{Title: f.Site.Name, Href: f.Path()}}
	stored, err := s.reg.Storage(c.Request.Context(), actorOf(c), f.Site.ID)
	form := web.NewForm("f").Set("version", strconv.Itoa(stored.Version))
	if stored.Own {
		form.Set("quota_mb", strconv.FormatInt(stored.Quota>>20, 10))
	}
	return storageView{frame: f, Form: form, Storage: stored}, err
}

func (s *Server) showStorage(c *gin.Context) error {
	v, err := s.storagePage(c)
	if err != nil {
		return err
	}
	return s.render(c, http.StatusOK, "storage", v)
}

func (s *Server) postStorage(c *gin.Context) error {
	form, err := readForm(c, "f")
	if err != nil {
		return err
	}
	quota, err := typedQuota(form)
	if err == nil {
		_, err = s.reg.UpdateSite(c.Request.Context(), actorOf(c), c.Param("site"), seenVersion(form), register.SitePatch{PhotoQuota: &quota})
	}
	if err == nil {
		return seeOther(c, sitePath(c.Param("site"), "storage")+"?done=saved")
	}
	r, ok := s.refused(c, form, err)
	if !ok {
		return err
	}
	v, err := s.storagePage(c)
	if err != nil {
		return err
	}
	form.Values.Set("version", strconv.Itoa(v.view.Version))
	v.Form, v.Notice = form, r.notice
	s.tellWhoChanged(c, r, "site", v.Site.ID)
	return s.render(c, r.status, "storage", v)
}

// typedQuota reads megabytes; nothing means as for the whole instance.
func typedQuota(f *web.Form) (int64, error) {
	const most = 1 << 40 // an exabyte
	text := typed(f, "quota_mb")
	if text == "" {
		return -1, nil
	}
	n, err := strconv.ParseInt(text, 10, 64)
	if err != nil || n < 0 || n > most {
		return 0, defects.RefuseField(defects.Invalid, "quota_mb", "bad_number", "write a whole number of megabytes")
	}
	return n << 20, nil
}
