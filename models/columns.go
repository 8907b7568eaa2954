package models

import (
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"storeyrod/defects"
)

// micros is how an instant is stored: microseconds since 1970, UTC.
func micros(t time.Time) int64 { return t.UnixMicro() }

func instant(us int64) time.Time { return time.UnixMicro(us).UTC() }

// optMicros stores the zero time as NULL.
func optMicros(t time.Time) *int64 {
	if t.IsZero() {
		return nil
	}
	us := t.UnixMicro()
	return &us
}

func optInstant(us *int64) time.Time {
	if us == nil {
		return time.Time{}
	}
	return instant(*us)
}

// optText stores an empty reference as NULL, which a foreign key lets pass.
func optText(s string) *string {
	if s == "" {
		return nil
	}
	return &s
}

func textOf(s *string) string {
	if s == nil {
		return ""
	}
	return *s
}

func optDecimal(d *defects.Decimal) *string {
	if d == nil {
		return nil
	}
	s := d.String()
	return &s
}

func decimalOf(s *string) (*defects.Decimal, error) {
	if s == nil {
		return nil, nil
	}
	d, err := defects.ParseDecimal(*s)
	if err != nil {
		return nil, fmt.Errorf("stored number %q: %w", *s, errStored)
	}
	return &d, nil
}

// firstVersion is the version a new row gets: as given, or 1.
func firstVersion(v int) int { return max(v, 1) }

// decode reads a JSON column.
func decode(text string, into any) error {
	if text == "" {
		return nil
	}
	if err := json.Unmarshal([]byte(text), into); err != nil {
		return fmt.Errorf("stored JSON: %w: %w", errStored, err)
	}
	return nil
}

// errStored says that the database holds what this program does not write.
var errStored = errors.New("the database holds a value that cannot be read")

// columns converts the columns of one row; the first error is kept.
type columns struct{ err error }

// json writes a JSON column. What is empty is stored as empty text, so that
// reading most rows decodes nothing.
func (c *columns) json(v any, empty bool) string {
	if empty || c.err != nil {
		return ""
	}
	b, err := json.Marshal(v)
	if err != nil {
		c.err = fmt.Errorf("encode column: %w", err)
	}
	return string(b)
}

func (c *columns) read(text string, into any) {
	if c.err == nil {
		c.err = decode(text, into)
	}
}

// texts reads a list of texts, such as ids.
func (c *columns) texts(text string) []string {
	if text == "" {
		return nil
	}
	var list []string
	c.read(text, &list)
	return list
}

func (c *columns) decimal(text *string) *defects.Decimal {
	if c.err != nil || text == nil {
		return nil
	}
	d, err := decimalOf(text)
	c.err = err
	return d
}

func (c *columns) number(text string) defects.Decimal {
	if d := c.decimal(&text); d != nil {
		return *d
	}
	return defects.Decimal{}
}

// placeRow are the columns of a place.
type placeRow struct {
	ElevationID *string
	XMm         *int64
	ZMm         *int64
	Bay         int
	Lift        int
	Opening     string
	Zone        string
}

func toPlaceRow(p defects.Place) placeRow {
	return placeRow{
		ElevationID: optText(p.ElevationID), XMm: (*int64)(p.X), ZMm: (*int64)(p.Z),
		Bay: p.Bay, Lift: p.Lift, Opening: p.Opening, Zone: string(p.Zone),
	}
}

func (r placeRow) place() defects.Place {
	return defects.Place{
		ElevationID: textOf(r.ElevationID), X: (*defects.MM)(r.XMm), Z: (*defects.MM)(r.ZMm),
		Bay: r.Bay, Lift: r.Lift, Opening: r.Opening, Zone: defects.Zone(r.Zone),
	}
}
