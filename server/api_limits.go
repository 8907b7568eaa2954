package server

import (
	"context"
	"encoding/json"
	"net/http"

	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/defects/reference"
)

// Schedule is a tolerance schedule, in the form it is uploaded in.
type Schedule struct {
	Ref      string          `json:"ref" doc:"name@version"`
	Title    string          `json:"title"`
	Edition  string          `json:"edition,omitempty"`
	Basis    string          `json:"basis"`
	Document json.RawMessage `json:"document" doc:"the whole schedule with every limit and its source"`
}

type schedulesOut struct {
	Body struct {
		InForce   []Schedule `json:"in_force" doc:"the governing one first"`
		Available []Schedule `json:"available"`
	}
}

func (a *api) limits() {
	handle(a, get("/sites/{site}/schedules", "Tolerance schedules in force and available"), may(defects.ViewSite), a.getSchedules)
	a.stream(withAnswer(withBody(post("/sites/{site}/schedules", "Add a version of a schedule of the project's own"), "application/json"),
		"201", "application/json"), may(defects.SetLimits), a.postSchedule)
	a.opinions()
}

func (a *api) getSchedules(ctx context.Context, in *SiteIn) (*schedulesOut, error) {
	inForce, all, err := a.s.reg.SchedulesOf(ctx, actorFrom(ctx), in.Site)
	if err != nil {
		return nil, err
	}
	out := &schedulesOut{}
	if out.Body.InForce, err = schedulesOf(inForce); err != nil {
		return nil, err
	}
	out.Body.Available, err = schedulesOf(all)
	return out, err
}

func schedulesOf(list []defects.Schedule) ([]Schedule, error) {
	out := make([]Schedule, 0, len(list))
	for _, s := range list {
		one, err := scheduleOf(s)
		if err != nil {
			return nil, err
		}
		out = append(out, one)
	}
	return out, nil
}

func scheduleOf(s defects.Schedule) (Schedule, error) {
	doc, err := reference.EncodeSchedule(s)
	return Schedule{Ref: defects.ScheduleRef(s), Title: s.Title, Edition: s.Edition, Basis: string(s.Basis), Document: doc}, err
}

func (a *api) postSchedule(c *gin.Context) error {
	s, err := a.s.reg.AddSchedule(c.Request.Context(), actorOf(c), c.Param("site"), c.Request.Body)
	if err != nil {
		return err
	}
	out, err := scheduleOf(s)
	if err != nil {
		return err
	}
	c.JSON(http.StatusCreated, out)
	return nil
}
