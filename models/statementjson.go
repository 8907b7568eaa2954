package models

import "storeyrod/defects"

// statementJSON is what a designer states for a set.
type statementJSON struct {
	Source  string     `json:"source"`
	GammaQ  *string    `json:"gamma_q,omitempty"`
	Zones   []zoneJSON `json:"zones,omitempty"`
	Anchors int        `json:"anchors,omitempty"`
	Action  *string    `json:"action,omitempty"`
	ByID    string     `json:"by_id"`
	ByName  string     `json:"by_name"`
	ByRole  string     `json:"by_role"`
	At      int64      `json:"at"`
}

type zoneJSON struct {
	Zone    string `json:"zone"`
	Suction string `json:"suction"`
	Ordered string `json:"ordered"`
}

func (c *columns) toStatement(s defects.Statement) string {
	if s.None() {
		return ""
	}
	j := statementJSON{
		Source: s.Source, GammaQ: optDecimal(s.GammaQ), Anchors: s.Anchors, Action: optDecimal(s.Action),
		ByID: s.By.ID, ByName: s.By.Name, ByRole: string(s.By.Role), At: micros(s.At),
	}
	for _, z := range s.Zones {
		j.Zones = append(j.Zones, zoneJSON{string(z.Zone), z.Suction.String(), z.Ordered.String()})
	}
	return c.json(j, false)
}

func (c *columns) statement(text string) defects.Statement {
	if text == "" {
		return defects.Statement{}
	}
	var j statementJSON
	c.read(text, &j)
	s := defects.Statement{
		Source: j.Source, GammaQ: c.decimal(j.GammaQ), Anchors: j.Anchors, Action: c.decimal(j.Action),
		By: defects.Person{ID: j.ByID, Name: j.ByName, Role: defects.Role(j.ByRole)}, At: instant(j.At),
	}
	for _, z := range j.Zones {
		s.Zones = append(s.Zones, defects.ZoneAction{Zone: defects.Zone(z.Zone), Suction: c.number(z.Suction), Ordered: c.number(z.Ordered)})
	}
	return s
}
