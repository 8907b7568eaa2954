package jpeg

// Full is the scale of a picture in its own size.
const Full = 8

// ScaleFor picks the smallest n whose result, n eighths of width × height
// pixels rounded up, is at least as large as wanted in both directions. It is
// Full when none is.
func ScaleFor(width, height, wantWidth, wantHeight int) int {
	for n := 1; n < Full; n++ {
		if scaled(width, n) >= wantWidth && scaled(height, n) >= wantHeight {
			return n
		}
	}
	return Full
}

// scaled is n eighths of a length; a last partial sample counts as one.
func scaled(length, n int) int { return ceilDiv(length*n, 8) }
