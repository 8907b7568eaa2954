package register

import (
	"strconv"

	"storeyrod/defects"
)

// photoData is a photo as the log keeps it. The bytes themselves are named by
// their hash; degrees are text.
type photoData struct {
	SHA256    string    `json:"sha256"`
	Size      int64     `json:"size"`
	FileName  string    `json:"file_name,omitempty"`
	Type      string    `json:"type"`
	Width     int       `json:"width"`
	Height    int       `json:"height"`
	Taken     string    `json:"taken_local,omitempty"`
	Offset    string    `json:"utc_offset,omitempty"`
	Lat       string    `json:"lat,omitempty"`
	Lon       string    `json:"lon,omitempty"`
	Direction string    `json:"direction_deg,omitempty"`
	Tilt      string    `json:"tilt_deg,omitempty"`
	Gang      string    `json:"gang,omitempty"`
	Stage     string    `json:"stage,omitempty"`
	Kind      string    `json:"kind,omitempty"`
	Note      string    `json:"note,omitempty"`
	Place     placeData `json:"place"`
	PlacedBy  string    `json:"placed_by,omitempty"`
	Offered   string    `json:"offered,omitempty"` // why its place is offered anew
	LabelSeen bool      `json:"label_seen"`
	ScaleSeen bool      `json:"scale_seen"`
	Grade     string    `json:"grade"`
	Flags     []string  `json:"flags,omitempty"`
	Overruled string    `json:"overruled,omitempty"`
	Version   int       `json:"version"`
}

func photoOf(p defects.Photo) *photoData {
	d := &photoData{
		SHA256: p.SHA256, Size: p.Size, FileName: p.FileName, Type: p.Capture.Type, Width: p.Capture.Width,
		Height: p.Capture.Height, Taken: p.Capture.TakenLocal, Offset: p.Capture.UTCOffset, Lat: floatText(p.Capture.Lat),
		Lon: floatText(p.Capture.Lon), Direction: floatText(p.Capture.Direction), Tilt: floatText(p.Capture.TiltDeg), Gang: p.Gang, Stage: p.Stage, Kind: p.Kind,
		Note: p.Note, Place: placeOf(p.Place), PlacedBy: string(p.PlacedBy), Offered: p.Offered, LabelSeen: p.LabelSeen, ScaleSeen: p.ScaleSeen,
		Grade: string(p.Grade), Overruled: p.Overruled, Version: p.Version,
	}
	for _, f := range p.Flags {
		d.Flags = append(d.Flags, f.Code)
	}
	return d
}

func floatText(f *float64) string {
	if f == nil {
		return ""
	}
	return strconv.FormatFloat(*f, 'f', -1, 64)
}

func takenEvent(p defects.Photo) change {
	return change{kind: "photo.take", typ: "photo", id: p.ID, data: changed[photoData]{After: photoOf(p)}}
}

func updatedEvent(before, after defects.Photo) change {
	return change{kind: "photo.update", typ: "photo", id: after.ID, data: changed[photoData]{Before: photoOf(before), After: photoOf(after)}}
}
