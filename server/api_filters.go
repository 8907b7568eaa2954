package server

import (
	"context"
	"errors"
	"slices"

	"storeyrod/defects"
	"storeyrod/defects/reference"
	"storeyrod/defects/register"
)

// wordFilter refuses a filter's word that is none of the known ones; nothing
// filters nothing.
func wordFilter[T ~string](field, word string, known []T) error {
	if word == "" || slices.Contains(known, T(word)) {
		return nil
	}
	return defects.RefuseField(defects.Invalid, field, "unknown_"+field, word+" is none")
}

func stageFilter(code string) error {
	var codes []string
	for _, s := range reference.Stages() {
		codes = append(codes, s.Code)
	}
	return wordFilter("stage", code, codes)
}

func outcomeFilter(word string) error {
	return wordFilter("outcome", word, []defects.Outcome{
		defects.Pass, defects.ConditionalPass, defects.ConditionalFail, defects.Fail, defects.NoVerdict,
	})
}

// elevationFilter refuses an elevation that the site does not have.
func (s *Server) elevationFilter(ctx context.Context, a register.Actor, site, id string) error {
	if id == "" {
		return nil
	}
	_, err := s.reg.Elevation(ctx, a, site, id)
	if e, ok := asRefusal(err); ok && errors.Is(err, defects.NotFound) && e.Code != "site_not_found" {
		return defects.RefuseField(defects.Invalid, "elevation", "unknown_elevation", "the site has no such elevation")
	}
	return err
}
