package register

import (
	"strconv"
	"time"

	"storeyrod/defects"
)

// The rows below are what the log keeps of a site and what stands on it:
// lengths in whole millimetres, decimals and degrees as text.

type siteData struct {
	ID        string     `json:"id"`
	Name      string     `json:"name"`
	TimeZone  string     `json:"time_zone"`
	Demo      bool       `json:"demo"`
	Rule      string     `json:"rule"`
	Guard     string     `json:"guard"`
	Schedules []string   `json:"schedules"`
	Fence     []pairData `json:"fence"`
	Quota     *int64     `json:"photo_quota,omitempty"`
	Threshold *string    `json:"face_threshold,omitempty"`
	Accuracy  string     `json:"accuracy,omitempty"`
	CreatedAt string     `json:"created_at"`
	Version   int        `json:"version"`
}

// pairData is a position: longitude and latitude in degrees, or x and y in
// metres.
type pairData [2]string

type buildingData struct {
	ID            string       `json:"id"`
	Name          string       `json:"name"`
	Ring          []pairData   `json:"ring,omitempty"`
	Plan          []pairData   `json:"plan,omitempty"`
	Courts        [][]pairData `json:"courts,omitempty"` // as the outline, in degrees or metres
	Height        int64        `json:"height_mm"`
	CompletedOn   string       `json:"completed_on"`
	DefectsMonths int          `json:"defects_months"`
	Version       int          `json:"version"`
}

type elevationData struct {
	ID       string        `json:"id"`
	Building string        `json:"building"` // id
	Name     string        `json:"name"`
	Order    int           `json:"order"`
	Court    int           `json:"court,omitempty"`
	Edge     int           `json:"edge"`
	Length   int64         `json:"length_mm"`
	Height   int64         `json:"height_mm"`
	Bearing  string        `json:"bearing"`
	BaseLine int64         `json:"base_line_mm"`
	Bays     []int64       `json:"bays_mm"`
	Lifts    []int64       `json:"lifts_mm"`
	Openings []openingData `json:"openings"`
	Version  int           `json:"version"`
}

type openingData struct {
	Name   string `json:"name"`
	Kind   string `json:"kind"`
	X      int64  `json:"x_mm"`
	Z      int64  `json:"z_mm"`
	Width  int64  `json:"width_mm"`
	Height int64  `json:"height_mm"`
}

type milestoneData struct {
	ID        string `json:"id"`
	Kind      string `json:"kind"`
	Stage     string `json:"stage"`
	Elevation string `json:"elevation"`
	BayFrom   int    `json:"bay_from"`
	BayTo     int    `json:"bay_to"`
	LiftFrom  int    `json:"lift_from"`
	LiftTo    int    `json:"lift_to"`
	On        string `json:"on"`
	Version   int    `json:"version"`
}

type instrumentData struct {
	ID            string            `json:"id"`
	Name          string            `json:"name"`
	Kind          string            `json:"kind"`
	Serial        string            `json:"serial"`
	Unit          string            `json:"unit"`
	Resolution    *string           `json:"resolution,omitempty"`
	Expanded      *string           `json:"expanded,omitempty"`
	Repeatability *string           `json:"repeatability,omitempty"`
	Repeats       int               `json:"repeats,omitempty"`
	Calibrations  []calibrationData `json:"calibrations"`
	Version       int               `json:"version"`
}

type calibrationData struct {
	Certificate string  `json:"certificate"`
	On          string  `json:"on"`
	Due         string  `json:"due"`
	Expanded    *string `json:"expanded,omitempty"`
	K           *string `json:"k,omitempty"`
}

type scheduleData struct {
	Name     string `json:"name"`
	Version  int    `json:"version"`
	Document string `json:"document"` // the JSON document, byte for byte
	AddedBy  string `json:"added_by"`
	AddedAt  string `json:"added_at"`
}

// both builds an event from the row before and after; either may be missing.
func both[R, D any](before, after *R, of func(R) D) changed[D] {
	var out changed[D]
	if before != nil {
		d := of(*before)
		out.Before = &d
	}
	if after != nil {
		d := of(*after)
		out.After = &d
	}
	return out
}

func siteEvent(before, after *defects.Site) changed[siteData] {
	return both(before, after, func(s defects.Site) siteData {
		return siteData{
			ID: s.ID, Name: s.Name, TimeZone: s.TimeZone, Demo: s.Demo, Rule: string(s.Rule), Guard: s.Guard.String(),
			Schedules: each(s.Schedules, func(s string) string { return s }), Fence: each(s.Fence, lonLatData), Quota: s.PhotoQuota,
			Threshold: optional(s.FaceThreshold), Accuracy: string(s.Accuracy),
			CreatedAt: s.CreatedAt.UTC().Format(time.RFC3339Nano), Version: s.Version,
		}
	})
}

func buildingEvent(before, after *defects.Building) changed[buildingData] {
	return both(before, after, func(b defects.Building) buildingData {
		courts := each(b.Courts, func(c []defects.LonLat) []pairData { return each(c, lonLatData) })
		courts = append(courts, each(b.PlanCourts, func(c []defects.XY) []pairData { return each(c, xyData) })...)
		return buildingData{
			ID: b.ID, Name: b.Name, Ring: each(b.Ring, lonLatData), Plan: each(b.Plan, xyData), Courts: courts, Height: int64(b.Height),
			CompletedOn: b.CompletedOn, DefectsMonths: b.DefectsMonths, Version: b.Version,
		}
	})
}

func elevationEvent(before, after *defects.Elevation) changed[elevationData] {
	return both(before, after, func(e defects.Elevation) elevationData {
		return elevationData{
			ID: e.ID, Building: e.BuildingID, Name: e.Name, Order: e.Order, Court: e.Court, Edge: e.Edge, Length: int64(e.Length),
			Height: int64(e.Height), Bearing: e.Bearing.String(), BaseLine: int64(e.BaseLine), Bays: each(e.Bays, mmData),
			Lifts: each(e.Lifts, mmData), Openings: each(e.Openings, openingOf), Version: e.Version,
		}
	})
}

func openingOf(o defects.Opening) openingData {
	return openingData{
		Name: o.Name, Kind: o.Kind, X: int64(o.X), Z: int64(o.Z), Width: int64(o.Width), Height: int64(o.Height),
	}
}

func milestoneEvent(before, after *defects.Milestone) changed[milestoneData] {
	return both(before, after, func(m defects.Milestone) milestoneData {
		return milestoneData{
			ID: m.ID, Kind: string(m.Kind), Stage: m.Stage, Elevation: m.ElevationID, BayFrom: m.BayFrom, BayTo: m.BayTo,
			LiftFrom: m.LiftFrom, LiftTo: m.LiftTo, On: m.On, Version: m.Version,
		}
	})
}

func instrumentEvent(before, after *defects.Instrument) changed[instrumentData] {
	return both(before, after, func(i defects.Instrument) instrumentData {
		return instrumentData{
			ID: i.ID, Name: i.Name, Kind: i.Kind, Serial: i.Serial, Unit: i.Unit, Resolution: optional(i.Resolution),
			Expanded: optional(i.Expanded), Repeatability: optional(i.Repeatability), Repeats: i.Repeats, Version: i.Version,
			Calibrations: each(i.Calibrations, func(c defects.Calibration) calibrationData {
				return calibrationData{Certificate: c.Certificate, On: c.On, Due: c.Due, Expanded: optional(c.Expanded), K: optional(c.K)}
			}),
		}
	})
}

func scheduleEvent(s StoredSchedule) scheduleData {
	return scheduleData{
		Name: s.Name, Version: s.Version, Document: string(s.Document), AddedBy: s.AddedBy,
		AddedAt: s.AddedAt.UTC().Format(time.RFC3339Nano),
	}
}

// each maps a list; none gives an empty list, not null.
func each[In, Out any](in []In, of func(In) Out) []Out {
	out := make([]Out, 0, len(in))
	for _, v := range in {
		out = append(out, of(v))
	}
	return out
}

func mmData(m defects.MM) int64            { return int64(m) }
func lonLatData(p defects.LonLat) pairData { return pairData{exactFloat(p.Lon), exactFloat(p.Lat)} }
func xyData(p defects.XY) pairData         { return pairData{exactFloat(p.X), exactFloat(p.Y)} }
func exactFloat(f float64) string          { return strconv.FormatFloat(f, 'f', -1, 64) }

func optional(d *defects.Decimal) *string {
	if d == nil {
		return nil
	}
	s := d.String()
	return &s
}
