package server

import (
	"fmt"
	"math"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

// Photo is one picture with what it says of itself.
type Photo struct {
	ID         string  `json:"id"`
	SHA256     string  `json:"sha256" doc:"of the original bytes"`
	Size       int64   `json:"size"`
	FileName   string  `json:"file_name,omitempty"`
	Capture    Capture `json:"capture"`
	ReceivedAt string  `json:"received_at"`
	AddedBy    Person  `json:"added_by"`
	Gang       string  `json:"gang,omitempty"`
	Stage      string  `json:"stage,omitempty"`
	Kind       string  `json:"kind,omitempty"`
	Note       string  `json:"note,omitempty"`
	Place      Place   `json:"place"`
	PlacedBy   string  `json:"placed_by,omitempty" doc:"program or person"`
	Facing     []Guess `json:"candidates" doc:"elevations it may show, the likeliest first"`
	Offered    string  `json:"offered,omitempty" doc:"why its place is offered anew after the outlines changed; its place stays until somebody places it"`
	LabelSeen  bool    `json:"label_seen"`
	ScaleSeen  bool    `json:"scale_seen"`
	Grade      string  `json:"grade" enum:"A,B,C,X"`
	Flags      []Flag  `json:"flags"`
	Overruled  string  `json:"overruled,omitempty"`
	Derived    string  `json:"view_copies" doc:"ready, waiting, or why they could not be made"`
	CopiesSeq  int64   `json:"view_copies_seq" doc:"counts up within the site with every change of view_copies"`
	Reason     string  `json:"view_copies_reason,omitempty" doc:"why there are none, in plain words"`
	Likeness   *string `json:"likeness" doc:"64-bit perceptual hash as 16 hexadecimal digits; null = not known yet"`
	OnWall     *OnWall `json:"on_wall,omitempty" doc:"what it takes in of the elevation it is on, by its own data; in the answer for one photo"`
	Version    int     `json:"version"`
}

// OnWall is what a photo takes in of the elevation it is on, at half the height of
// the picture, given that its middle lies on that wall. A place with x and z that a
// person set goes before it.
type OnWall struct {
	ElevationID string   `json:"elevation_id"`
	Known       bool     `json:"known"`
	Reason      string   `json:"reason,omitempty" doc:"why it is not known"`
	From        *Between `json:"from_m,omitempty" doc:"left edge, metres from the left end, seen from outside, facing the wall; cut off at the ends of the wall"`
	Middle      *Between `json:"middle_m,omitempty"`
	To          *Between `json:"to_m,omitempty" doc:"right edge"`
	Bottom      *Between `json:"bottom_m,omitempty" doc:"lower edge, metres above the base line; only where the camera's tilt is stored"`
	Top         *Between `json:"top_m,omitempty"`
	Notes       []string `json:"notes,omitempty" doc:"what was assumed or corrected"`
}

// Between is a figure with its error.
type Between struct {
	Best float64 `json:"best" doc:"as likely too large as too small"`
	Low  float64 `json:"low" doc:"it lies between low and high with 95 %"`
	High float64 `json:"high"`
}

func onWallOf(w register.OnWall) *OnWall {
	out := &OnWall{ElevationID: w.Elevation.ID, Known: w.Known, Reason: w.Why, Notes: w.Notes}
	if w.Known {
		out.Middle = betweenOf(&w.Middle)
		out.From, out.To, out.Bottom, out.Top = betweenOf(w.From), betweenOf(w.To), betweenOf(w.Bottom), betweenOf(w.Top)
	}
	return out
}

// betweenOf rounds to centimetres: the errors are metres.
func betweenOf(s *defects.Span) *Between {
	if s == nil {
		return nil
	}
	round := func(v float64) float64 { return math.Round(v*100) / 100 }
	return &Between{Best: round(s.Best), Low: round(s.Low), High: round(s.High)}
}

// Capture is what a photo says of itself; null where it does not.
type Capture struct {
	Type        string   `json:"type"`
	Width       int      `json:"width" doc:"pixels as stored"`
	Height      int      `json:"height"`
	Orientation int      `json:"orientation"`
	Make        *string  `json:"make"`
	Model       *string  `json:"model"`
	Lens        *string  `json:"lens"`
	Software    *string  `json:"software"`
	TakenLocal  *string  `json:"taken_local"`
	UTCOffset   *string  `json:"utc_offset"`
	TakenUTC    *string  `json:"taken_utc"`
	SubSec      *string  `json:"subsec"`
	GPSUTC      *string  `json:"gps_utc"`
	Lat         *float64 `json:"lat"`
	Lon         *float64 `json:"lon"`
	AltitudeM   *float64 `json:"altitude_m"`
	Direction   *float64 `json:"direction_deg"`
	DirectionBy *string  `json:"direction_ref"`
	TiltDeg     *float64 `json:"tilt_deg" doc:"above the horizon"`
	HErrorM     *float64 `json:"h_error_m"`
	FocalMM     *float64 `json:"focal_mm"`
	Focal35MM   *float64 `json:"focal_35mm"`
}

// Guess is one elevation a photo may show.
type Guess struct {
	ElevationID string  `json:"elevation_id"`
	Name        string  `json:"name"`
	DistanceM   float64 `json:"distance_m"`
	OffAxisDeg  float64 `json:"off_axis_deg" doc:"-1 = no heading"`
	Why         string  `json:"why"`
	P           float64 `json:"p" doc:"chance that the middle of the picture lies on it, given that it lies on a wall; 0 = not worked out"`
}

// Flag is one observation about a photo and its effect.
type Flag struct {
	Code string `json:"code"`
	Text string `json:"text"`
	Caps string `json:"caps_grade_at,omitempty"`
}

func photoOf(p defects.Photo) Photo {
	derived := p.Derived
	if derived == "" {
		derived = "waiting"
	}
	return Photo{
		ID: p.ID, SHA256: p.SHA256, Size: p.Size, FileName: p.FileName, Capture: captureOf(p.Capture),
		ReceivedAt: stamp(p.ReceivedAt), AddedBy: Person{ID: p.AddedBy, Name: p.AddedName}, Gang: p.Gang, Stage: p.Stage,
		Kind: p.Kind, Note: p.Note, Place: placeOf(p.Place), PlacedBy: string(p.PlacedBy), Offered: p.Offered, LabelSeen: p.LabelSeen,
		ScaleSeen: p.ScaleSeen, Grade: string(p.Grade), Overruled: p.Overruled, Derived: derived, Version: p.Version,
		CopiesSeq: p.CopiesSeq, Reason: p.CopiesReason(), Likeness: likenessOf(p.Likeness),
		Facing: each(p.Facing, func(g defects.FaceGuess) Guess {
			return Guess{ElevationID: g.ElevationID, Name: g.Name, DistanceM: g.DistanceM, OffAxisDeg: g.OffAxisDeg, Why: g.Why, P: g.P}
		}),
		Flags: each(p.Flags, func(f defects.Flag) Flag { return Flag{Code: f.Code, Text: f.Text, Caps: string(f.Caps)} }),
	}
}

func likenessOf(bits *uint64) *string {
	if bits == nil {
		return nil
	}
	return said(fmt.Sprintf("%016x", *bits))
}

func captureOf(c defects.Capture) Capture {
	out := Capture{
		Type: c.Type, Width: c.Width, Height: c.Height, Orientation: c.Orientation, Make: said(c.Make),
		Model: said(c.Model), Lens: said(c.Lens), Software: said(c.Software), TakenLocal: said(c.TakenLocal),
		UTCOffset: said(c.UTCOffset), SubSec: said(c.SubSec), Lat: c.Lat, Lon: c.Lon, AltitudeM: c.AltitudeM,
		Direction: c.Direction, DirectionBy: said(c.DirectionBy), TiltDeg: c.TiltDeg, HErrorM: c.HErrorM, FocalMM: c.FocalMM, Focal35MM: c.Focal35MM,
	}
	if c.TakenUTC != nil {
		out.TakenUTC = said(stamp(*c.TakenUTC))
	}
	if c.GPSUTC != nil {
		out.GPSUTC = said(stamp(*c.GPSUTC))
	}
	return out
}

// said turns an empty text into null.
func said(text string) *string {
	if text == "" {
		return nil
	}
	return &text
}
