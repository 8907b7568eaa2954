package cli

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"storeyrod/defects"
)

// locatePhoto is a photo on its way to an answer.
type locatePhoto struct {
	name     string
	err      error // why it could not be read
	capture  defects.Capture
	placed   bool
	sighting defects.Sighting
	notes    []string
	shown    defects.Posterior
}

// leastAlternative is the chance below which a face is not listed.
const leastAlternative = 0.001

func (s *footprints) line(p locatePhoto, threshold float64) locateLine {
	l := locateLine{File: p.name, Alternatives: []locateFace{}}
	if p.err != nil {
		l.Error, l.Reason = describe(p.err), "the photo could not be read"
		return l
	}
	if !p.placed && len(p.shown.Faces) == 0 {
		l.Reason = "the photo carries no position"
		return l
	}
	l.PHit = to(1e6, &p.shown.Hit)
	for i, f := range p.shown.Faces {
		at := s.faces[f.Face]
		one := locateFace{Building: s.names[at.Building], Edge: at.Edge, Ring: at.Ring, P: *to(1e6, &f.P)}
		if i == 0 {
			l.Building, l.Edge, l.Ring, l.P = &one.Building, &one.Edge, one.Ring, &one.P
		} else if one.P >= leastAlternative {
			l.Alternatives = append(l.Alternatives, one)
		}
	}
	l.Reason = reasonOf(p, threshold)
	return l
}

// stretch is what a photo takes in of its likeliest face, nil when that cannot be
// said.
func (s *footprints) stretch(p locatePhoto) *locateSpans {
	if !p.placed || len(p.shown.Faces) == 0 {
		return nil
	}
	got, ok := s.scene.Stretch(p.sighting, s.scene.LineOf(p.shown.Faces[0].Face))
	if !ok {
		return nil
	}
	span := func(one *defects.Span) *locateSpan {
		if one == nil {
			return nil
		}
		return &locateSpan{Best: *to(100, &one.Best), Low: *to(100, &one.Low), High: *to(100, &one.High)}
	}
	return &locateSpans{From: span(got.From), Middle: *span(&got.Middle), To: span(got.To)}
}

// reasonOf says how far the answer goes and what it rests on.
func reasonOf(p locatePhoto, threshold float64) string {
	var text string
	switch {
	case len(p.shown.Faces) == 0:
		text = "the middle of the picture shows none of the buildings"
	case p.shown.Faces[0].P >= threshold:
		text = fmt.Sprintf("reaches %g", threshold)
	case !p.placed:
		text = fmt.Sprintf("below %g; the photo carries no position, only its neighbours speak for it", threshold)
	case !p.sighting.Headed:
		text = fmt.Sprintf("below %g; the photo does not say which way the camera looked", threshold)
	default:
		text = fmt.Sprintf("below %g; an area label in frame or a choice by hand would settle it", threshold)
	}
	return strings.Join(append([]string{text}, p.notes...), "; ")
}

// walk lets the photos of each camera speak for each other. A photo that does
// not say when it was taken stays by itself.
func (s *footprints) walk(all []locatePhoto) {
	cameras := map[string][]int{}
	times := make([]time.Time, len(all))
	for i, p := range all {
		if at, ok := p.capture.Day(); ok && p.err == nil {
			times[i] = at
			cameras[p.capture.Camera()] = append(cameras[p.capture.Camera()], i)
		}
	}
	for _, list := range cameras {
		slices.SortStableFunc(list, func(a, b int) int { return cmp.Or(times[a].Compare(times[b]), cmp.Compare(all[a].name, all[b].name)) })
		steps := make([]defects.WalkPhoto, len(list))
		for k, i := range list {
			steps[k] = defects.WalkPhoto{At: times[i], Alone: all[i].shown}
		}
		for k, p := range s.scene.Smooth(steps) {
			all[list[k]].shown = p
		}
	}
}
