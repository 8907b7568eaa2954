package report

import (
	"encoding/json"
	"io"
	"time"

	"storeyrod/defects"
)

// SnagListJSON is the JSON form of one elevation's snag list.
type SnagListJSON struct {
	Site        string         `json:"site"`
	SiteID      string         `json:"site_id"`
	Invented    bool           `json:"invented_data,omitempty" doc:"true on a demo site"`
	Building    string         `json:"building"`
	Elevation   string         `json:"elevation"`
	ElevationID string         `json:"elevation_id"`
	At          string         `json:"at" doc:"when the list was taken"`
	LogSeq      int64          `json:"log_seq" doc:"position in the site's log the list was taken at"`
	ByState     map[string]int `json:"by_state"`
	BySeverity  map[string]int `json:"by_severity"`
	Snags       []SnagRow      `json:"snags"`
	Note        string         `json:"note"`
}

// NotExhaustive stands on every list: finding defects stays the contractor's
// job, whatever a list names (common practice).
const NotExhaustive = "This list is not exhaustive."

// SnagListOf gives the JSON form of a list.
func SnagListOf(list defects.SnagList, zone *time.Location) SnagListJSON {
	out := SnagListJSON{
		Site: list.Site.Name, SiteID: list.Site.ID, Invented: list.Site.Demo,
		Building: list.Elevation.Building, Elevation: list.Elevation.Name, ElevationID: list.Elevation.ID,
		At: list.At.In(zone).Format(time.RFC3339), LogSeq: list.Seq,
		ByState: map[string]int{}, BySeverity: map[string]int{}, Snags: Rows(list, zone), Note: NotExhaustive,
	}
	for state, n := range list.Counts {
		out.ByState[string(state)] = n
	}
	for severity, n := range list.BySeverity {
		out.BySeverity[string(severity)] = n
	}
	return out
}

// WriteSnagJSON writes lists as one JSON array.
func WriteSnagJSON(w io.Writer, lists []defects.SnagList, zone *time.Location) error {
	out := make([]SnagListJSON, 0, len(lists))
	for _, list := range lists {
		out = append(out, SnagListOf(list, zone))
	}
	enc := json.NewEncoder(w)
	enc.SetIndent("", "  ")
	return enc.Encode(out)
}
