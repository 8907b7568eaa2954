package report

import (
	"strconv"
	"time"

	"storeyrod/defects"
)

// SnagRow is one line of a snag list as every export carries it. Lengths are in
// metres as text with three places, times RFC 3339, dates "2006-01-02"; what
// does not apply is empty.
type SnagRow struct {
	Walk        int      `json:"walk" doc:"position on the walk of its elevation, from 1"`
	Number      int      `json:"number"`
	Ref         string   `json:"ref"`
	Building    string   `json:"building"`
	Elevation   string   `json:"elevation"`
	Place       string   `json:"place" doc:"place in words, as seen from outside, facing the wall"`
	Bay         int      `json:"bay,omitempty"`
	Lift        int      `json:"lift,omitempty"`
	X           string   `json:"x_m,omitempty" doc:"metres from the left end"`
	Z           string   `json:"z_m,omitempty" doc:"metres above the base line"`
	Opening     string   `json:"opening,omitempty"`
	Code        string   `json:"code"`
	Title       string   `json:"title"`
	Severity    string   `json:"severity"`
	State       string   `json:"state"`
	Round       int      `json:"round"`
	Stage       string   `json:"stage,omitempty"`
	Gang        string   `json:"gang,omitempty"`
	Requirement string   `json:"requirement,omitempty"`
	Reading     string   `json:"reading,omitempty" doc:"reading against its limit"`
	Due         string   `json:"due,omitempty"`
	DueReason   string   `json:"due_reason,omitempty"`
	DueText     string   `json:"due_text,omitempty"`
	OverdueDays int      `json:"overdue_days,omitempty" doc:"days that the date is past, counted in the site's zone"`
	AlsoDue     []string `json:"also_due,omitempty" doc:"the other dates that apply: day and what happens"`
	RaisedAt    string   `json:"raised_at"`
	RaisedBy    string   `json:"raised_by"`
	Text        string   `json:"text,omitempty"`
	Photos      []string `json:"photos" doc:"ids of the first and the last photo"`
}

// Rows flattens a snag list; times are told in the given zone.
func Rows(list defects.SnagList, zone *time.Location) []SnagRow {
	rows := make([]SnagRow, 0, len(list.Items))
	for i, item := range list.Items {
		s := item.Snag
		rows = append(rows, SnagRow{
			Walk: i + 1, Number: s.Number, Ref: s.Ref(),
			Building: list.Elevation.Building, Elevation: list.Elevation.Name, Place: s.PlaceWords,
			Bay: s.Place.Bay, Lift: s.Place.Lift, X: metres(s.Place.X), Z: metres(s.Place.Z), Opening: s.Place.Opening,
			Code: s.Code, Title: s.Title, Severity: string(s.Severity), State: string(s.State), Round: s.Round,
			Stage: s.Stage, Gang: s.Gang, Requirement: s.Requirement, Reading: s.ReadingText,
			Due: item.Due.On, DueReason: string(item.Due.Reason), DueText: item.Due.Text,
			OverdueDays: item.Overdue, AlsoDue: alsoDue(item.Also),
			RaisedAt: s.RaisedAt.In(zone).Format(time.RFC3339), RaisedBy: s.RaisedBy.Name, Text: s.Text,
			Photos: nonNil(item.Thumbs),
		})
	}
	return rows
}

// alsoDue says the further dates of a snag: "2026-12-08 scaffold strike".
func alsoDue(also []defects.Due) []string {
	var out []string
	for _, due := range also {
		out = append(out, due.On+" "+due.Text)
	}
	return out
}

func metres(m *defects.MM) string {
	if m == nil {
		return ""
	}
	return m.Metres().String()
}

func nonNil(list []string) []string {
	if list == nil {
		return []string{}
	}
	return list
}

// count prints a number that means nothing when it is zero.
func count(n int) string {
	if n == 0 {
		return ""
	}
	return strconv.Itoa(n)
}
