package server

import (
	"errors"
	"fmt"
	"io"
	"mime/multipart"
	"net/http"
	"strconv"

	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/web"
)

// Bounds of one intake without the script.
const (
	intakeFiles   = 200
	maxFieldBytes = 4 << 10
)

// takeInView is the page that takes files in, with what became of the last ones.
type takeInView struct {
	frame
	Form    *web.Form
	Walls   []web.Option
	Stages  []web.Option
	Results []takenLine
	Counts  map[string]int
	Notes   []string
	MaxMB   int64
}

// takenLine is one file, row or feature and what became of it: taken, known or
// refused.
type takenLine struct {
	Item   string
	Answer string
	Text   string
	Href   string
}

func (s *Server) takeInPage(c *gin.Context, form *web.Form) (takeInView, error) {
	f, err := s.onSite(c, "take-in")
	if err != nil {
		return takeInView{}, err
	}
	walls, err := s.reg.Elevations(c.Request.Context(), actorOf(c), f.Site.ID)
	if err != nil {
		return takeInView{}, err
	}
	return takeInView{
		frame: f, Form: form, Walls: wallOptions(walls, "let the photos say"), Stages: stageOptions("not stated"),
		MaxMB: s.opt.MaxPhoto >> 20,
	}, nil
}

func (s *Server) showTakeIn(c *gin.Context) error {
	v, err := s.takeInPage(c, queryForm(c, "f"))
	if err != nil {
		return err
	}
	return s.render(c, http.StatusOK, "take_in", v)
}

// answer shows the page again with what became of each part.
func (s *Server) answerTaken(c *gin.Context, form *web.Form, lines []takenLine, notes []string) error {
	v, err := s.takeInPage(c, form)
	if err != nil {
		return err
	}
	v.Results, v.Notes, v.Counts = lines, notes, map[string]int{}
	for _, l := range lines {
		v.Counts[l.Answer]++
	}
	return s.render(c, http.StatusOK, "take_in", v)
}

// postTakePhotos takes photos one after the other from the stream, so that no
// more than one is held. The fields stand before the files in the form.
func (s *Server) postTakePhotos(c *gin.Context) error {
	c.Request.Body = http.MaxBytesReader(c.Writer, c.Request.Body, s.opt.MaxPhoto*intakeFiles)
	form, lines := web.NewForm("f"), []takenLine(nil)
	err := eachPart(c.Request, func(part *multipart.Part) error {
		if part.FileName() == "" {
			return addField(form, part)
		}
		line, err := s.takePart(c, form, part)
		lines = append(lines, line)
		return err
	})
	if err != nil {
		return err
	}
	return s.answerTaken(c, form, lines, nil)
}

// eachPart walks a multipart body. Empty file fields are passed over.
func eachPart(r *http.Request, each func(*multipart.Part) error) error {
	reader, err := r.MultipartReader()
	if err != nil {
		return badForm(err)
	}
	for {
		part, err := reader.NextPart()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return badForm(err)
		}
		if err := each(part); err != nil {
			return err
		}
	}
}

func addField(form *web.Form, part *multipart.Part) error {
	value, err := io.ReadAll(io.LimitReader(part, maxFieldBytes))
	if err != nil {
		return badForm(err)
	}
	form.Values.Add(part.FormName(), string(value))
	return nil
}

// takePart takes one file in. What a person can mend is a line of the answer,
// and the other files go on.
func (s *Server) takePart(c *gin.Context, form *web.Form, part *multipart.Part) (takenLine, error) {
	line := takenLine{Item: plainFile(part.FileName()), Answer: "taken"}
	place, err := typedPlace(form)
	if err == nil {
		in := register.PhotoInput{
			FileName: part.FileName(), Stage: typed(form, "stage"), Kind: typed(form, "kind"), Gang: typed(form, "gang"),
			Place: place, LabelSeen: form.Has("label_seen", "yes"), ScaleSeen: form.Has("scale_seen", "yes"),
		}
		var p defects.Photo
		var known bool
		p, known, err = s.reg.TakePhoto(c.Request.Context(), actorOf(c), c.Param("site"), part, in)
		if err == nil {
			line.Href, line.Text = sitePath(c.Param("site"), "photos", p.ID), "grade "+string(p.Grade)
			if known {
				line.Answer = "known"
			}
			return line, nil
		}
	}
	e, ok := asRefusal(err)
	if !ok {
		return line, err
	}
	if e.Kind == defects.Forbidden || e.Kind == defects.Unauthenticated {
		return line, err
	}
	line.Answer, line.Text = "refused", refusalText(e, s.zoneOfSite(c))
	return line, nil
}

// tableOf reads the form of one table: its fields and its one file.
func (s *Server) tableOf(c *gin.Context, read func(io.Reader) error) (*web.Form, error) {
	c.Request.Body = http.MaxBytesReader(c.Writer, c.Request.Body, maxTableBytes+maxFormBytes)
	form, found := web.NewForm("f"), false
	err := eachPart(c.Request, func(part *multipart.Part) error {
		if part.FileName() == "" {
			return addField(form, part)
		}
		found = true
		return read(part)
	})
	if err == nil && !found {
		err = defects.RefuseField(defects.Invalid, "file", "file_missing", "choose a file")
	}
	return form, err
}

func (s *Server) postTakeReadings(c *gin.Context) error {
	var rows []register.ReadingInput
	var bad []register.Refusal
	form, err := s.tableOf(c, func(r io.Reader) (err error) {
		rows, bad, err = register.ParseReadingsCSV(r, maxTableBytes)
		return err
	})
	if err != nil {
		return s.refuseTable(c, form, err)
	}
	results, err := s.reg.AddReadings(c.Request.Context(), actorOf(c), c.Param("site"), rows)
	if err != nil {
		return err
	}
	var lines []takenLine
	for _, r := range bad {
		lines = append(lines, takenLine{Item: r.Item, Answer: "refused", Text: refusalText(r.Err, s.zoneOfSite(c))})
	}
	for _, r := range results {
		lines = append(lines, s.readingLine(c, r))
	}
	return s.answerTaken(c, form, lines, nil)
}

func (s *Server) readingLine(c *gin.Context, r register.ReadingResult) takenLine {
	if r.Err != nil {
		return takenLine{Item: fmt.Sprintf("row %d", r.Row), Answer: "refused", Text: refusalText(r.Err, s.zoneOfSite(c))}
	}
	return takenLine{
		Item: "row " + strconv.Itoa(r.Row), Answer: "taken", Href: sitePath(c.Param("site"), "readings", r.Reading.ID),
		Text: web.Words(r.Reading.Quantity) + " " + defects.ReadingWords(r.Reading) + ": " + string(r.Reading.Verdict.Outcome),
	}
}

func (s *Server) postTakeBuildings(c *gin.Context) error {
	var features []register.NewBuilding
	var bad []register.Refusal
	form, err := s.tableOf(c, func(r io.Reader) (err error) {
		features, bad, err = register.ParseGeoJSON(r, maxTableBytes)
		return err
	})
	if err != nil {
		return s.refuseTable(c, form, err)
	}
	taken, err := s.reg.AddBuildings(c.Request.Context(), actorOf(c), c.Param("site"), features)
	if err != nil {
		return err
	}
	var lines []takenLine
	for _, b := range taken.Buildings {
		lines = append(lines, takenLine{Item: b.Name, Answer: "taken", Text: b.Height.Metres().String() + " m high", Href: sitePath(c.Param("site"))})
	}
	for _, name := range taken.Known {
		lines = append(lines, takenLine{Item: name, Answer: "known", Text: "as it was"})
	}
	for _, r := range append(bad, taken.Refused...) {
		lines = append(lines, takenLine{Item: r.Item, Answer: "refused", Text: refusalText(r.Err, s.zoneOfSite(c))})
	}
	return s.answerTaken(c, form, lines, taken.Notes)
}

// refuseTable shows the page again for a file that could not be read at all.
func (s *Server) refuseTable(c *gin.Context, form *web.Form, err error) error {
	r, ok := s.refused(c, form, err)
	if !ok {
		return err
	}
	v, err := s.takeInPage(c, form)
	if err != nil {
		return err
	}
	v.Notice = r.notice
	return s.render(c, r.status, "take_in", v)
}
