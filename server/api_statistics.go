package server

import (
	"context"
	"strconv"
	"time"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/defects/statistics"
)

type budgetOut struct{ Body Budget }

type statisticsIn struct {
	SiteIn
	Quantity       string `query:"quantity" doc:"needed"`
	Elevation      string `query:"elevation" doc:"elevation id"`
	Stage          string `query:"stage"`
	Gang           string `query:"gang"`
	Set            string `query:"set"`
	From           string `query:"from" doc:"first day, in the site's time zone"`
	To             string `query:"to" doc:"last day"`
	Proportion     string `query:"proportion" doc:"that the tolerance interval covers; 0.90 when absent"`
	Confidence     string `query:"confidence" doc:"0.95 when absent"`
	Side           string `query:"side" doc:"of the tolerance interval: either, high or low; the limit's when absent"`
	AQL            string `query:"aql" doc:"acceptance by variables by MIL-STD-414 Table B-1: 1.0, 1.5, 4.0 or 6.5"`
	ProducerShare  string `query:"producer_share" doc:"or by a plan derived from two risks: share outside in a good lot"`
	ProducerAccept string `query:"producer_accept" doc:"how often it is accepted"`
	ConsumerShare  string `query:"consumer_share" doc:"share outside in a bad lot"`
	ConsumerAccept string `query:"consumer_accept" doc:"how often it is accepted"`
	Run            string `query:"run" doc:"readings behind a point of the control chart; by their number when absent"`
}

// value gives a parameter by its name, as pages do.
func (in *statisticsIn) value(name string) string {
	return map[string]string{
		"quantity": in.Quantity, "elevation": in.Elevation, "stage": in.Stage, "gang": in.Gang, "set": in.Set,
		"from": in.From, "to": in.To, "proportion": in.Proportion, "confidence": in.Confidence, "side": in.Side, "aql": in.AQL,
		"producer_share": in.ProducerShare, "producer_accept": in.ProducerAccept, "consumer_share": in.ConsumerShare,
		"consumer_accept": in.ConsumerAccept, "run": in.Run,
	}[name]
}

type statisticsOut struct{ Body Statistics }

func (a *api) statistics() {
	handle(a, get("/sites/{site}/readings/{reading}/budget", "How the uncertainty of a reading comes about, what its verdict risks and what would settle it"),
		may(defects.ViewSite), func(ctx context.Context, in *ReadingIn) (*budgetOut, error) {
			b, err := a.s.reg.BudgetOf(ctx, actorFrom(ctx), in.Site, in.ID)
			if err != nil {
				return nil, err
			}
			return &budgetOut{Body: budgetOf(b)}, nil
		})
	handle(a, get("/sites/{site}/statistics", "Statistics of the readings of one quantity; at most "+strconv.Itoa(register.MaxFigures)+" at once"),
		may(defects.ViewSite), a.getStatistics)
}

func (a *api) getStatistics(ctx context.Context, in *statisticsIn) (*statisticsOut, error) {
	view, err := a.s.reg.SiteHead(ctx, actorFrom(ctx), in.Site)
	if err != nil {
		return nil, err
	}
	f, w, err := readStatistics(in.value, zoneOf(view.Site))
	if err != nil {
		return nil, err
	}
	if err := a.s.elevationFilter(ctx, actorFrom(ctx), in.Site, in.Elevation); err != nil {
		return nil, err
	}
	f.SiteID = in.Site
	s, err := a.s.reg.ReadingStatistics(ctx, actorFrom(ctx), f, w)
	if err != nil {
		return nil, err
	}
	return &statisticsOut{Body: statisticsOf(s)}, nil
}

// readStatistics reads from an address which readings are meant and what is
// wanted of them. Pages and the REST interface use the same names.
func readStatistics(value func(name string) string, zone *time.Location) (f register.ReadingFilter, w statistics.Wanted, err error) {
	f = register.ReadingFilter{
		Quantity: value("quantity"), ElevationID: value("elevation"), Stage: value("stage"), Gang: value("gang"), SetID: value("set"),
	}
	if err := stageFilter(f.Stage); err != nil {
		return f, w, err
	}
	if f.Since, err = dayIn(value("from"), "from", zone, 0); err != nil {
		return f, w, err
	}
	if f.Until, err = dayIn(value("to"), "to", zone, 1); err != nil {
		return f, w, err
	}
	w.Side, w.Plan.AQL = statistics.Side(value("side")), value("aql")
	for _, share := range []struct {
		name string
		to   *float64
	}{
		{"proportion", &w.Proportion},
		{"confidence", &w.Confidence},
		{"producer_share", &w.Plan.Producer.Share},
		{"producer_accept", &w.Plan.Producer.Accept},
		{"consumer_share", &w.Plan.Consumer.Share},
		{"consumer_accept", &w.Plan.Consumer.Accept},
	} {
		if *share.to, err = shareOf(share.name, value(share.name)); err != nil {
			return f, w, err
		}
	}
	if text := value("run"); text != "" {
		if w.Run, err = strconv.Atoi(text); err != nil || w.Run < 1 {
			return f, w, defects.RefuseField(defects.Invalid, "run", "bad_number", "must be a whole number from 2")
		}
	}
	return f, w, nil
}

// dayIn is the start of a day in a zone, or of the one days later; "" is none.
func dayIn(text, field string, zone *time.Location, later int) (time.Time, error) {
	if text == "" {
		return time.Time{}, nil
	}
	day, err := time.ParseInLocation(time.DateOnly, text, zone)
	if err != nil {
		return day, defects.RefuseField(defects.Invalid, field, "bad_date", "must be a day such as 2026-03-31")
	}
	return day.AddDate(0, 0, later), nil
}

// shareOf reads a share between 0 and 1; "" is none.
func shareOf(field, text string) (float64, error) {
	if text == "" {
		return 0, nil
	}
	f, err := strconv.ParseFloat(text, 64)
	if err != nil || !(f > 0 && f < 1) {
		return 0, defects.RefuseField(defects.Invalid, field, "bad_number", "must be a share between 0 and 1, such as 0.95")
	}
	return f, nil
}
