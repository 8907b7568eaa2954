package server

import (
	"net/http"
	"slices"
	"strconv"

	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/web"
)

const opinionSlots = 4

// opinionsView is readings under several schedules side by side.
type opinionsView struct {
	frame
	Form    *web.Form
	Slots   []string
	Options []web.Option
	Walls   []web.Option
	One     *opinionLine // when it is about a single reading
	All     *register.Opinions
	Counts  []opinionCount
	Lines   []opinionLine
}

type opinionLine struct {
	readingLine
	Verdicts []opinionVerdict
}

type opinionVerdict struct {
	defects.Verdict
	Limit string
}

type opinionCount struct {
	Schedule string
	N        []int // by the outcomes of Outcomes
}

// Outcomes are the columns of the counts.
func (opinionsView) Outcomes() []defects.Outcome {
	return []defects.Outcome{defects.Pass, defects.ConditionalPass, defects.ConditionalFail, defects.Fail, defects.NoVerdict}
}

func opinionLineOf(o register.Opinion, names map[string]string) opinionLine {
	line := opinionLine{readingLine: readingLines([]defects.Reading{o.Reading}, names)[0]}
	for _, v := range o.Verdicts {
		line.Verdicts = append(line.Verdicts, opinionVerdict{v, defects.LimitWords(v, o.Reading.Unit)})
	}
	return line
}

// chosen are the schedules named in the slots of a form.
func chosen(f *web.Form) []string {
	var refs []string
	for i := 1; i <= opinionSlots; i++ {
		if ref := typed(f, "schedule"+strconv.Itoa(i)); ref != "" && !slices.Contains(refs, ref) {
			refs = append(refs, ref)
		}
	}
	return refs
}

func (s *Server) showOpinions(c *gin.Context) error {
	f, err := s.onSite(c, "limits")
	if err != nil {
		return err
	}
	ctx, a := c.Request.Context(), actorOf(c)
	f.Trail = []navLink{{Title: "Limits", Href: f.Path("limits")}}
	v := opinionsView{frame: f, Form: queryForm(c, "f")}
	inForce, all, err := s.reg.SchedulesOf(ctx, a, f.Site.ID)
	if err != nil {
		return err
	}
	walls, err := s.reg.Elevations(ctx, a, f.Site.ID)
	if err != nil {
		return err
	}
	v.Options, v.Walls = append([]web.Option{{Text: "none"}}, scheduleOptions(all)...), wallOptions(walls, "the whole site")
	refs := chosen(v.Form)
	for i := range opinionSlots {
		slot := "schedule" + strconv.Itoa(i+1)
		v.Slots = append(v.Slots, slot)
		if len(refs) == 0 && i < len(inForce) {
			v.Form.Set(slot, defects.ScheduleRef(inForce[i]))
		}
	}
	names := wallNames(walls)
	if reading := typed(v.Form, "reading"); reading != "" {
		o, err := s.reg.OpinionsOn(ctx, a, f.Site.ID, reading, refs)
		if err != nil {
			return err
		}
		line := opinionLineOf(o, names)
		v.One = &line
		return s.render(c, http.StatusOK, "opinions", v)
	}
	over, err := s.reg.OpinionsOver(ctx, a, f.Site.ID, typed(v.Form, "elevation"), refs)
	if err != nil {
		return err
	}
	v.All = &over
	for i, ref := range over.Schedules {
		count := opinionCount{Schedule: ref}
		for _, o := range v.Outcomes() {
			count.N = append(count.N, over.Counts[i][o])
		}
		v.Counts = append(v.Counts, count)
	}
	for _, o := range over.Disagree {
		v.Lines = append(v.Lines, opinionLineOf(o, names))
	}
	return s.render(c, http.StatusOK, "opinions", v)
}

// rejudgeView counts what judging anew would change, and asks for the decision.
type rejudgeView struct {
	frame
	Form       *web.Form
	Slots      []string
	Options    []web.Option
	Walls      []web.Option
	Stages     []web.Option
	Quantities []web.Option
	Preview    *defects.Rejudgement
	Past       []defects.Rejudgement
	names      map[string]string
}

// Wall is the name of a decision's elevation.
func (v rejudgeView) Wall(id string) string { return v.names[id] }

func orderOf(f *web.Form) register.RejudgeOrder {
	return register.RejudgeOrder{
		ElevationID: typed(f, "elevation"), Stage: typed(f, "stage"), Quantity: typed(f, "quantity"),
		Schedules: chosen(f), Reason: typed(f, "reason"),
	}
}

func (s *Server) rejudgePage(c *gin.Context, form *web.Form) (rejudgeView, error) {
	f, err := s.onSite(c, "limits")
	if err != nil {
		return rejudgeView{}, err
	}
	ctx, a := c.Request.Context(), actorOf(c)
	f.Trail = []navLink{{Title: "Limits", Href: f.Path("limits")}}
	v := rejudgeView{frame: f, Form: form, Stages: stageOptions("every stage"), Quantities: quantityOptions("every quantity")}
	inForce, all, err := s.reg.SchedulesOf(ctx, a, f.Site.ID)
	if err != nil {
		return v, err
	}
	walls, err := s.reg.Elevations(ctx, a, f.Site.ID)
	if err != nil {
		return v, err
	}
	v.names, v.Walls = wallNames(walls), wallOptions(walls, "the whole site")
	v.Options = append([]web.Option{{Text: "none"}}, scheduleOptions(all)...)
	asked := len(chosen(form)) > 0
	for i := range opinionSlots {
		slot := "schedule" + strconv.Itoa(i+1)
		v.Slots = append(v.Slots, slot)
		if !asked && i < len(inForce) {
			form.Set(slot, defects.ScheduleRef(inForce[i]))
		}
	}
	if v.Past, err = s.reg.Rejudgements(ctx, a, f.Site.ID); err != nil || !asked {
		return v, err
	}
	preview, err := s.reg.PreviewRejudge(ctx, a, f.Site.ID, orderOf(form))
	v.Preview = &preview
	return v, err
}

func (s *Server) showRejudge(c *gin.Context) error {
	v, err := s.rejudgePage(c, queryForm(c, "f"))
	if err != nil {
		return err
	}
	return s.render(c, http.StatusOK, "rejudge", v)
}

func (s *Server) postRejudgeAll(c *gin.Context) error {
	form, err := readForm(c, "f")
	if err != nil {
		return err
	}
	if _, err = s.reg.RejudgeAll(c.Request.Context(), actorOf(c), c.Param("site"), orderOf(form)); err == nil {
		return seeOther(c, sitePath(c.Param("site"), "rejudge")+"?done=rejudged")
	}
	r, ok := s.refused(c, form, err)
	if !ok {
		return err
	}
	v, err := s.rejudgePage(c, form)
	if err != nil {
		return err
	}
	v.Notice = r.notice
	return s.render(c, r.status, "rejudge", v)
}
