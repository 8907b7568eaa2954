package server

import (
	"errors"
	"net/url"
	"regexp"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"storeyrod/report"
)

// Tiles is where map tiles come from that the operator wants laid under the plan,
// and whose they are. Without it nothing is fetched from anywhere else.
type Tiles struct {
	template    string
	origin      string
	attribution string
}

var hostOnly = regexp.MustCompile(`^([A-Za-z0-9.-]+|\[::1\])(:[0-9]{1,5})?$`)

// NewTiles checks an address with {z}, {x} and {y} and the words that say whose the
// map is. Both empty is none. Only HTTPS is taken, and HTTP from this machine.
func NewTiles(template, attribution string) (*Tiles, error) {
	template, attribution = strings.TrimSpace(template), strings.TrimSpace(attribution)
	if template == "" && attribution == "" {
		return nil, nil
	}
	if attribution == "" {
		return nil, errors.New("tiles need the words that say whose the map is")
	}
	for _, part := range []string{"{z}", "{x}", "{y}"} {
		if strings.Count(template, part) != 1 {
			return nil, errors.New("the address of tiles holds {z}, {x} and {y} once each, as in https://tiles.example/{z}/{x}/{y}.png")
		}
	}
	filled := fillTile(template, 1, 2, 3)
	u, err := url.Parse(filled)
	switch {
	case err != nil || u.Host == "" || u.User != nil || u.Fragment != "" || strings.ContainsAny(filled, "{}<>\"' \t\r\n"):
		return nil, errors.New("the address of tiles is no plain web address")
	case !hostOnly.MatchString(u.Host) || !strings.HasPrefix(template, u.Scheme+"://"+u.Host+"/"):
		return nil, errors.New("{z}, {x} and {y} stand after the host")
	case u.Scheme != "https" && (u.Scheme != "http" || !thisMachine(u.Hostname())):
		return nil, errors.New("tiles come by https, or by http from this machine")
	}
	return &Tiles{template: template, origin: u.Scheme + "://" + u.Host, attribution: attribution}, nil
}

func thisMachine(host string) bool {
	return host == "localhost" || host == "127.0.0.1" || host == "::1"
}

func fillTile(template string, z, x, y int) string {
	return strings.NewReplacer("{z}", strconv.Itoa(z), "{x}", strconv.Itoa(x), "{y}", strconv.Itoa(y)).Replace(template)
}

// address is that of one tile.
func (t *Tiles) address(z, x, y int) string { return fillTile(t.template, z, x, y) }

// policy is the site's own with pictures of that one origin allowed besides.
func (t *Tiles) policy() string {
	return strings.Replace(policy, "img-src 'self' blob:", "img-src 'self' blob: "+t.origin, 1)
}

// ground is the map that the operator wants under a plan, nil without one.
func (s *Server) ground() report.Ground {
	if s.opt.Tiles == nil {
		return nil
	}
	return s.opt.Tiles.address
}

// allowGround lets the page that is being answered load the map's pictures, and
// gives the words that say whose they are.
func (s *Server) allowGround(c *gin.Context) string {
	if s.opt.Tiles == nil {
		return ""
	}
	c.Header("Content-Security-Policy", s.opt.Tiles.policy())
	return s.opt.Tiles.attribution
}
