package defects

import "time"

// PhotoCheck is all that the checks of a photo need to know.
type PhotoCheck struct {
	Photo     Photo           // its Capture, ReceivedAt, LabelSeen and Overruled are read
	Elevation *Elevation      // the wall it was put on; nil = none yet
	Buildings []BuildingFaces // all of the site
	Fence     []LonLat        // empty = derived from the buildings
	Zone      *time.Location  // the site's zone; nil = UTC
}
