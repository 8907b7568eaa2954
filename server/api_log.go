package server

import (
	"context"
	"encoding/json"
	"strconv"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/evidence"
)

// LogEntry is one entry of a site's append-only log.
type LogEntry struct {
	Seq     int64           `json:"seq"`
	At      string          `json:"at"`
	Actor   LogActor        `json:"actor"`
	Kind    string          `json:"kind"`
	Subject LogSubject      `json:"subject"`
	Data    json.RawMessage `json:"data,omitempty"`
}

// LogActor is who did it, as it was then.
type LogActor struct {
	ID     string `json:"id"`
	Name   string `json:"name"`
	Role   string `json:"role"`
	Device string `json:"device"`
}

// LogSubject is what it was done to.
type LogSubject struct {
	Type   string `json:"type"`
	ID     string `json:"id"`
	Number int    `json:"number,omitempty"`
}

func logEntryOf(e evidence.Entry) LogEntry {
	return LogEntry{
		Seq: e.Seq, At: stamp(e.At), Kind: e.Kind, Data: e.Data,
		Actor:   LogActor{ID: e.Actor.ID, Name: e.Actor.Name, Role: e.Actor.Role, Device: e.Actor.Device},
		Subject: LogSubject{Type: e.Subject.Type, ID: e.Subject.ID, Number: e.Subject.Number},
	}
}

type logIn struct {
	SiteIn
	From  int64  `query:"from" minimum:"1" default:"1" doc:"first sequence number"`
	Limit int    `query:"limit" minimum:"1" maximum:"500" default:"100"`
	Kind  string `query:"kind" doc:"only entries of this kind, such as snag.close"`
	By    string `query:"by" doc:"only what the account of this id did"`
}

type logOut struct {
	Link string `header:"Link"`
	Body struct {
		Items []LogEntry `json:"items"`
	}
}

func (a *api) log() {
	handle(a, get("/sites/{site}/log", "The site's log, oldest first"), may(defects.ViewLog), func(ctx context.Context, in *logIn) (*logOut, error) {
		f := register.LogFilter{SiteID: in.Site, Oldest: true, From: in.From, Kind: in.Kind, ByID: in.By}
		entries, next, err := a.s.reg.SearchLog(ctx, actorFrom(ctx), f, in.Limit)
		if err != nil {
			return nil, err
		}
		out := &logOut{}
		if next > 0 {
			q := query("from", strconv.FormatInt(next, 10), "limit", strconv.Itoa(in.Limit), "kind", in.Kind, "by", in.By)
			out.Link = "<" + apiRoot + "/sites/" + in.Site + "/log?" + q.Encode() + `>; rel="next"`
		}
		out.Body.Items = each(entries, logEntryOf)
		return out, nil
	})
}
