package report

import (
	"fmt"
	"strings"

	"storeyrod/defects"
)

// DrawnPhoto is one photo on a drawing: what it takes in, and where a person put it.
type DrawnPhoto struct {
	Stretch *defects.Stretch // nil = not known
	X, Z    *defects.MM      // where it was put exactly; nil = nobody did
}

// words says what it is, for who cannot see the drawing.
func (p DrawnPhoto) words() string {
	var words []string
	if p.Stretch != nil {
		words = append(words, stretchTitle(*p.Stretch))
	}
	if p.X != nil && p.Z != nil {
		words = append(words, fmt.Sprintf("the photo's place is %s m from the left end and %s m above the base line", short(*p.X), short(*p.Z)))
	}
	return strings.Join(append([]string{"with one photo"}, words...), ", ")
}

// photo draws what a picture takes in as a band between its edges, each edge with a
// bar from end to end of its 95 % interval, and its exact place as a target.
func (s *sketch) photo(e defects.Elevation, p *DrawnPhoto) {
	if p == nil {
		return
	}
	if p.Stretch != nil {
		s.stretch(e, *p.Stretch)
	}
	if p.X != nil && p.Z != nil {
		x, y, r := *p.X, s.y(*p.Z), s.size
		s.f(`<g class="photo-spot"><title>the photo's place: %s m from the left, %s m above the base line</title><circle cx="%d" cy="%d" r="%d"/><path d="M%d %dh%dM%d %dv%d"/></g>`,
			short(*p.X), short(*p.Z), x, y, r, x-2*r, y, 4*r, x, y-2*r, 4*r)
	}
}

func (s *sketch) stretch(e defects.Elevation, st defects.Stretch) {
	top, foot := defects.MM(0), s.height
	if st.Bottom != nil {
		top, foot = s.y(mm(st.Top.Best)), s.y(mm(st.Bottom.Best))
	}
	s.f(`<g class="photo-stretch"><title>%s</title>`, esc(stretchTitle(st)))
	if st.From != nil {
		from, to := mm(st.From.Best), mm(st.To.Best)
		s.f(`<rect x="%d" y="%d" width="%d" height="%d"/><path class="photo-edge" d="M%d %dV%dM%d %dV%d"/>`,
			from, top, to-from, foot-top, from, top, foot, to, top, foot)
		s.bar(e, *st.From, s.height/4, "left edge")
		s.bar(e, *st.To, s.height*3/4, "right edge")
	}
	s.f(`<path class="photo-middle" d="M%d %dV%d"/>`, mm(st.Middle.Best), top, foot)
	s.bar(e, st.Middle, s.height/2, "middle")
	s.b.WriteString("</g>")
}

// bar draws an interval at a height with its name, which is kept on the wall.
func (s *sketch) bar(e defects.Elevation, span defects.Span, y defects.MM, name string) {
	low, best, high, tick := mm(span.Low), mm(span.Best), mm(span.High), s.size/2
	s.f(`<path class="photo-error" d="M%d %dv%dM%d %dH%dM%d %dv%d"/><circle class="photo-best" cx="%d" cy="%d" r="%d"/>`,
		low, y-tick, 2*tick, low, y, high, high, y-tick, 2*tick, best, y, s.size*3/10)
	half := s.size * defects.MM(len(name)) * 3 / 10
	at := min(max((low+high)/2, half), max(e.Length-half, half))
	s.text("photo-word", at, y-s.size*7/10, "middle", name)
}

func mm(metres float64) defects.MM { return defects.MM(metres * 1000) }

// stretchTitle says the drawing's figures in words.
func stretchTitle(st defects.Stretch) string {
	say := func(s defects.Span) string {
		return fmt.Sprintf("%.1f m, with 95 %% between %.1f and %.1f m", s.Best, s.Low, s.High)
	}
	if st.From == nil {
		return "the middle of the picture: " + say(st.Middle)
	}
	return "the picture takes in: left edge " + say(*st.From) + "; right edge " + say(*st.To)
}
