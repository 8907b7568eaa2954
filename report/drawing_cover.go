package report

import (
	"fmt"

	"storeyrod/defects"
)

// DrawnCell is one bay and lift of a drawing of photo coverage.
type DrawnCell struct {
	Bay, Lift int
	Photos    int  // that can be used
	Short     bool // there are photos, none of which can be used
	Title     string
	Href      string
}

// cover draws which cells have a photo that can be used: the count where there is
// one, else a hatched cell with a sign, so that nothing hangs on colour.
func (s *sketch) cover(e defects.Elevation, cells []DrawnCell) {
	if len(cells) == 0 {
		return
	}
	s.f(`<defs><pattern id="bare" width="%d" height="%d" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><path class="cover-hatch" d="M0 0V%d"/></pattern></defs>`,
		s.size, s.size, s.size)
	for _, c := range cells {
		s.coverCell(e, c)
	}
}

func (s *sketch) coverCell(e defects.Elevation, c DrawnCell) {
	x0, x1 := coverSpan(e.Bays, e.Length, c.Bay)
	z0, z1 := coverSpan(e.Lifts, e.Height, c.Lift)
	class, word := "cover-good", fmt.Sprint(c.Photos)
	switch {
	case c.Photos > 0:
	case c.Short:
		class, word = "cover-short", "!"
	default:
		class, word = "cover-bare", "–"
	}
	element := "g"
	if c.Href == "" {
		s.b.WriteString("<g>")
	} else {
		element = "a"
		s.f(`<a href="%s">`, esc(c.Href))
	}
	s.f(`<title>%s</title><rect class="%s" x="%d" y="%d" width="%d" height="%d"/>`, esc(c.Title), class, x0, s.y(z1), x1-x0, z1-z0)
	s.text("cover-count", (x0+x1)/2, s.y((z0+z1)/2)+s.size/3, "middle", word)
	s.f("</%s>", element)
}

// coverSpan is a bay or lift, or the whole where there are none.
func coverSpan(ends []defects.MM, whole defects.MM, n int) (from, to defects.MM) {
	if len(ends) == 0 {
		return 0, whole
	}
	return cell(ends, n)
}

func coverLabel(cells []DrawnCell) string {
	bare := 0
	for _, c := range cells {
		if c.Photos == 0 {
			bare++
		}
	}
	return fmt.Sprintf("with %d of %d bays and lifts lacking a photo that can be used", bare, len(cells))
}
