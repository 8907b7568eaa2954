package models

import (
	"time"

	"storeyrod/defects"
)

// captureJSON is what a photo says of itself, as stored. The names are part of
// the stored form: they stay when fields of package defects are renamed.
type captureJSON struct {
	Type        string     `json:"type,omitempty"`
	Width       int        `json:"width,omitempty"`
	Height      int        `json:"height,omitempty"`
	Orientation int        `json:"orientation,omitempty"`
	Make        string     `json:"make,omitempty"`
	Model       string     `json:"model,omitempty"`
	Lens        string     `json:"lens,omitempty"`
	Software    string     `json:"software,omitempty"`
	TakenLocal  string     `json:"taken_local,omitempty"`
	UTCOffset   string     `json:"utc_offset,omitempty"`
	TakenUTC    *time.Time `json:"taken_utc,omitempty"`
	SubSec      string     `json:"subsec,omitempty"`
	GPSUTC      *time.Time `json:"gps_utc,omitempty"`
	Lat         *float64   `json:"lat,omitempty"`
	Lon         *float64   `json:"lon,omitempty"`
	AltitudeM   *float64   `json:"altitude_m,omitempty"`
	Direction   *float64   `json:"direction_deg,omitempty"`
	DirectionBy string     `json:"direction_ref,omitempty"`
	TiltDeg     *float64   `json:"tilt_deg,omitempty"`
	HErrorM     *float64   `json:"h_error_m,omitempty"`
	FocalMM     *float64   `json:"focal_mm,omitempty"`
	Focal35MM   *float64   `json:"focal_35mm,omitempty"`
}

func toCaptureJSON(c defects.Capture) captureJSON {
	return captureJSON{
		Type: c.Type, Width: c.Width, Height: c.Height, Orientation: c.Orientation, Make: c.Make, Model: c.Model,
		Lens: c.Lens, Software: c.Software, TakenLocal: c.TakenLocal, UTCOffset: c.UTCOffset, TakenUTC: inUTC(c.TakenUTC),
		SubSec: c.SubSec, GPSUTC: inUTC(c.GPSUTC), Lat: c.Lat, Lon: c.Lon, AltitudeM: c.AltitudeM, Direction: c.Direction,
		DirectionBy: c.DirectionBy, TiltDeg: c.TiltDeg, HErrorM: c.HErrorM, FocalMM: c.FocalMM, Focal35MM: c.Focal35MM,
	}
}

func (c captureJSON) capture() defects.Capture {
	return defects.Capture{
		Type: c.Type, Width: c.Width, Height: c.Height, Orientation: c.Orientation, Make: c.Make, Model: c.Model,
		Lens: c.Lens, Software: c.Software, TakenLocal: c.TakenLocal, UTCOffset: c.UTCOffset, TakenUTC: inUTC(c.TakenUTC),
		SubSec: c.SubSec, GPSUTC: inUTC(c.GPSUTC), Lat: c.Lat, Lon: c.Lon, AltitudeM: c.AltitudeM, Direction: c.Direction,
		DirectionBy: c.DirectionBy, TiltDeg: c.TiltDeg, HErrorM: c.HErrorM, FocalMM: c.FocalMM, Focal35MM: c.Focal35MM,
	}
}

func inUTC(t *time.Time) *time.Time {
	if t == nil {
		return nil
	}
	u := t.UTC()
	return &u
}

type faceGuessJSON struct {
	ElevationID string  `json:"elevation_id"`
	Name        string  `json:"name"`
	DistanceM   float64 `json:"distance_m"`
	OffAxisDeg  float64 `json:"off_axis_deg"`
	Why         string  `json:"why"`
	P           float64 `json:"p,omitempty"`
}

func toFacingJSON(list []defects.FaceGuess) []faceGuessJSON {
	out := make([]faceGuessJSON, len(list))
	for i, g := range list {
		out[i] = faceGuessJSON{g.ElevationID, g.Name, g.DistanceM, g.OffAxisDeg, g.Why, g.P}
	}
	return out
}

func fromFacingJSON(list []faceGuessJSON) []defects.FaceGuess {
	var out []defects.FaceGuess
	for _, g := range list {
		out = append(out, defects.FaceGuess{
			ElevationID: g.ElevationID, Name: g.Name,
			DistanceM: g.DistanceM, OffAxisDeg: g.OffAxisDeg, Why: g.Why, P: g.P,
		})
	}
	return out
}

type flagJSON struct {
	Code string `json:"code"`
	Text string `json:"text"`
	Caps string `json:"caps,omitempty"`
}

func toFlagsJSON(list []defects.Flag) []flagJSON {
	out := make([]flagJSON, len(list))
	for i, f := range list {
		out[i] = flagJSON{f.Code, f.Text, string(f.Caps)}
	}
	return out
}

func fromFlagsJSON(list []flagJSON) []defects.Flag {
	var out []defects.Flag
	for _, f := range list {
		out = append(out, defects.Flag{Code: f.Code, Text: f.Text, Caps: defects.Grade(f.Caps)})
	}
	return out
}
