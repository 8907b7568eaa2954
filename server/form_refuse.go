package server

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/web"
)

// refusal is a form that was not taken.
type refusal struct {
	status int
	notice *notice
	err    *defects.Error
}

// refused puts a refusal that can be mended on the form: true means that the
// page is to be shown again with what was typed. Any other error is the error
// page's. Photos that were refused are unticked, so that they do not stand in
// the way of the next try.
func (s *Server) refused(c *gin.Context, f *web.Form, err error) (*refusal, bool) {
	e, ok := asRefusal(err)
	if !ok || !mendable(e) {
		return nil, false
	}
	w := refusalWords{s: s, c: c, form: f, zone: time.UTC}
	if c.Param("site") != "" {
		w.zone = s.zoneOfSite(c)
	}
	out := &refusal{status: statusOf[e.Kind], err: e, notice: &notice{Class: "bad"}}
	parts := slices.DeleteFunc(slices.Clone(e.Details), bookkeeping)
	if e.Field != "" && len(parts) > 0 { // several things to mend, the first of them named again in front
		out.notice.Text = "Not taken yet. All of this is to be mended:"
	} else {
		text := e.Text
		if text == "" {
			text = web.Words(e.CodeOrKind())
		}
		out.notice.Text = w.say(e.Field, e.CodeOrKind(), text)
	}
	for _, d := range parts {
		out.notice.Parts = append(out.notice.Parts, w.say(d.Field, d.Code, d.Text))
	}
	if len(w.untick) > 0 {
		f.Values["photos"] = slices.DeleteFunc(f.Values["photos"], func(id string) bool { return slices.Contains(w.untick, id) })
	}
	if len(f.Taken) > 0 {
		out.notice.Parts = append(out.notice.Parts, "Already taken in, and kept: "+strings.Join(f.Taken, "; ")+".")
	}
	return out, true
}

// tellWhoChanged adds to a refusal of an older version who changed it since, and
// when, for those who may read the log.
func (s *Server) tellWhoChanged(c *gin.Context, r *refusal, typ, id string) {
	if r.err.Kind != defects.Stale {
		return
	}
	entries, err := s.reg.EntriesOf(c.Request.Context(), actorOf(c), c.Param("site"), typ, id)
	if err != nil || len(entries) == 0 {
		return // the refusal itself stands
	}
	last := entries[len(entries)-1]
	r.notice.Parts = append(r.notice.Parts, "Changed by "+last.Actor.Name+", "+last.Actor.Role+", on "+last.At.In(s.zoneOfSite(c)).Format(whenForm)+
		". What you typed stands below; saved again, it goes over that change.")
}

// refusalText says one refusal that stands on no form, such as a file's or a
// row's: what it is about in the page's words, then the text.
func refusalText(e *defects.Error, zone *time.Location) string {
	text := plainWords(e.Text, zone)
	if e.Text == "" {
		text = web.Words(e.CodeOrKind())
	}
	if e.Field == "" || e.Field == "file" || e.Field == "photo" {
		return text
	}
	return formLabel("", "", e.Field) + ": " + text
}

// plainProblem is a problem document as a page says it.
func plainProblem(p *Problem, zone *time.Location) *Problem {
	plain := *p
	plain.Detail = plainWords(strings.TrimPrefix(p.Detail, p.Field+": "), zone)
	plain.Errors = nil
	for _, e := range p.Errors {
		if strings.HasPrefix(e.Code, "current_") {
			continue
		}
		e.Text = plainWords(e.Text, zone)
		if e.Field != "" {
			e.Field = formLabel("", "", e.Field)
		}
		plain.Errors = append(plain.Errors, e)
	}
	return &plain
}

// mendable tells a refusal that belongs on the form from one that is a page of
// its own.
func mendable(e *defects.Error) bool {
	switch e.Kind {
	case defects.Invalid, defects.Question, defects.Conflict, defects.Stale, defects.VersionNeeded, defects.TooLarge,
		defects.UnsupportedType:
		return true
	case defects.Forbidden, defects.Unauthenticated, defects.NotFound:
		return e.Field != ""
	}
	return false
}

// bookkeeping tells the parts of a refusal that are for programs.
func bookkeeping(d defects.Detail) bool {
	return d.Code == "suggestion" || strings.HasPrefix(d.Code, "current_")
}

// refusalWords says refusals of one form as a person reads them.
type refusalWords struct {
	s      *Server
	c      *gin.Context
	form   *web.Form
	zone   *time.Location
	untick []string // photos that were refused
}

// say marks the field of one refusal and gives its line for the notice.
func (w *refusalWords) say(field, code, text string) string {
	text = plainWords(text, w.zone)
	if field == "" {
		return sentence(text)
	}
	name, label := fieldName(field), formLabel(w.form.Prefix, w.c.FullPath(), field)
	if name == "photos" {
		name, text = "file", w.photo(field, code, text)
	}
	if name == "file" { // the text names the file, or asks for one
		label = ""
	}
	if before := w.form.Wrong[name]; before != "" && before != text {
		w.form.Refuse(name, before+". "+sentence(text))
	} else {
		w.form.Refuse(name, text)
	}
	return sentence(strings.TrimPrefix(label+": "+text, ": "))
}

// photo names a refused photo by its file and time, and unticks it.
func (w *refusalWords) photo(field, code, text string) string {
	ids := ticked(w.form)
	at := slices.IndexFunc(ids, func(id string) bool { return code == "photo_other_elevation" && w.elsewhere(id) })
	if _, index, found := strings.Cut(strings.TrimSuffix(field, "]"), "["); found {
		at, _ = strconv.Atoi(index)
	}
	if at < 0 || at >= len(ids) {
		return text
	}
	w.untick = append(w.untick, ids[at])
	p, err := w.s.reg.Photo(w.c.Request.Context(), actorOf(w.c), w.c.Param("site"), ids[at])
	if err != nil {
		return text
	}
	return photoName(p, w.zone) + ": " + text
}

func (w *refusalWords) elsewhere(id string) bool {
	p, err := w.s.reg.Photo(w.c.Request.Context(), actorOf(w.c), w.c.Param("site"), id)
	return err == nil && p.Place.ElevationID != "" && p.Place.ElevationID != typed(w.form, "elevation")
}

// ticked are the photos of a form, in the order the register sees them.
func ticked(f *web.Form) []string {
	return slices.DeleteFunc(slices.Clone(f.Values["photos"]), func(id string) bool { return id == "" })
}

// photoName is what a person knows a photo by.
func photoName(p defects.Photo, zone *time.Location) string {
	name := p.FileName
	if name == "" {
		name = "photo"
	}
	at, what := p.ReceivedAt, "received "
	if taken, _ := p.TakenAt(zone); !taken.IsZero() {
		at, what = taken, "taken "
	}
	return name + ", " + what + at.In(zone).Format(whenForm)
}

// plainWords turns what programs write into what people read: instants and days
// in words and in the site's zone, quantities without underlines.
func plainWords(text string, zone *time.Location) string {
	text = regexp.MustCompile(`\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?(Z|[+-]\d\d:\d\d)`).ReplaceAllStringFunc(text, func(word string) string {
		t, err := time.Parse(time.RFC3339, word)
		if err != nil {
			return word
		}
		return t.In(zone).Format(whenForm)
	})
	// A day in quotation marks is what was typed, one after "as" is how to type it.
	text = regexp.MustCompile(`(^|as |[^"\w-])(\d{4}-\d\d-\d\d)\b`).ReplaceAllStringFunc(text, func(match string) string {
		before, day := match[:len(match)-len(time.DateOnly)], match[len(match)-len(time.DateOnly):]
		if before == "as " {
			return match
		}
		return before + web.Day(day)
	})
	return regexp.MustCompile(`[a-z0-9]+(_[a-z0-9]+)+`).ReplaceAllStringFunc(text, func(word string) string {
		if _, known := defects.QuantityByName(word); known {
			return web.Words(word)
		}
		return word
	})
}

// fieldName is the form's name of a refused input: "openings[2].name" is
// "openings", of which the form has one field.
func fieldName(field string) string {
	name, _, _ := strings.Cut(field, "[")
	return name
}

// sentence begins a text with a capital, but leaves a file's name alone.
func sentence(text string) string {
	first, _, _ := strings.Cut(text, " ")
	if text == "" || strings.Contains(strings.TrimRight(first, ".,:;"), ".") {
		return text
	}
	return strings.ToUpper(text[:1]) + text[1:]
}

// formLabel is what the page calls a refused input. An index becomes a number
// counted from one: "bays[2]" is "Bay 3".
func formLabel(prefix, path, field string) string {
	if field == "text" {
		return textLabel(prefix, path)
	}
	name, rest, list := strings.Cut(field, "[")
	if !list {
		return fieldWords(field)
	}
	index, after, _ := strings.Cut(rest, "]")
	n, err := strconv.Atoi(index)
	if err != nil {
		return fieldWords(name)
	}
	one := map[string]string{"plan": "Corner", "ring": "Corner", "corners": "Corner"}[name]
	if one == "" {
		one = sentence(web.Words(strings.TrimSuffix(name, "s")))
	}
	label := fmt.Sprintf("%s %d", one, n+1)
	if after = strings.Trim(after, "."); after != "" {
		label += ", " + web.Words(after)
	}
	return label
}
