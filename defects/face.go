package defects

// BuildingFaces is a building with its elevations.
type BuildingFaces struct {
	Building   Building
	Elevations []Elevation
}

// FaceOptions settles how far GuessFaces looks. The zero value takes the
// defaults.
type FaceOptions struct {
	RangeM float64 // 0 = FaceRangeM
}
