package server

import (
	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

// postOffer decides on a photo that is offered anew: it stays where it is, with
// bay, lift and all, or goes to one of the candidates.
func (s *Server) postOffer(c *gin.Context) error {
	form, err := readForm(c, "offer")
	if err != nil {
		return err
	}
	ctx, a, site, id := c.Request.Context(), actorOf(c), c.Param("site"), c.Param("photo")
	p, err := s.reg.Photo(ctx, a, site, id)
	if err != nil {
		return err
	}
	to := defects.Place{ElevationID: typed(form, "to")}
	if to.ElevationID == p.Place.ElevationID {
		to = p.Place
	}
	if to.ElevationID == "" {
		return defects.RefuseField(defects.Invalid, "to", "elevation_missing", "choose the elevation")
	}
	_, err = s.reg.UpdatePhoto(ctx, a, site, id, seenVersion(form), register.PhotoPatch{Place: &to})
	return s.photoChanged(c, form, err, "placed", nil, func(*photoView) {})
}
