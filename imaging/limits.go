package imaging

import (
	"fmt"
	"io"

	"storeyrod/defects"
)

// Limits bound what a photo may cost before any pixel of it is decoded.
// The defaults come from measuring dimension bombs: a 200 kB progressive JPEG
// or a 2.6 MB PNG can ask for gigabytes.
type Limits struct {
	MaxBytes             int64 // whole file
	MaxPixels            int64 // width × height
	MaxEdge              int   // pixels, either side
	MaxPNGPixels         int64 // PNG and lossless WebP, whatever a pixel costs
	MaxDecodeBytes       int64 // memory that decoding one photo in full may hold
	MaxScanPixels        int64 // pixels × scans of a JPEG decoded in full
	MaxProgressivePixels int64 // progressive JPEG holds all coefficients while decoding
	MaxMetadata          int   // bytes of one Exif block, colour profile or box of descriptions
	MaxSegments          int   // segments, chunks or boxes walked over in one file
}

// DefaultLimits gives room for the largest phone pictures and no more.
func DefaultLimits() Limits {
	return Limits{
		MaxBytes:             60 << 20,
		MaxPixels:            64_000_000,
		MaxEdge:              16_384,
		MaxPNGPixels:         32_000_000,
		MaxDecodeBytes:       88 << 20,
		MaxScanPixels:        400_000_000,
		MaxProgressivePixels: 25_000_000,
		MaxMetadata:          2 << 20,
		MaxSegments:          4096,
	}
}

// Header is what the container says of the picture.
type Header struct {
	Type        Type
	Size        int64 // bytes of the file
	Width       int   // pixels as stored, before orientation
	Height      int
	Progressive bool // progressive JPEG or interlaced PNG
	Lossless    bool // PNG, or WebP in its lossless coding
	Decodable   bool // whether Derive has a decoder for it
	Components  int  // colour components of a JPEG; 0 for other types
	PixelBytes  int  // bytes a pixel costs while a PNG or WebP is decoded; 0 for other types
}

// Pixels is width × height.
func (h Header) Pixels() int64 { return int64(h.Width) * int64(h.Height) }

// Weight is the memory decoding may need, in pixels of a plain JPEG (two bytes
// each at most), the unit of Pool: a progressive JPEG holds up to 15 bytes
// a pixel, a PNG or WebP what its header says.
func (h Header) Weight() int64 {
	switch {
	case h.Type == JPEG && h.Progressive:
		return 8 * h.Pixels()
	case h.PixelBytes > 0:
		return max(1, int64(h.PixelBytes)*h.Pixels()/2)
	default:
		return h.Pixels()
	}
}

// CheckHeader reads the header and refuses what is over a limit, without
// decoding any pixel and without reading the file as a whole. Refusals:
// "unsupported_type", "empty_file", "damaged_file" (Invalid),
// "too_many_bytes" and "too_many_pixels" (TooLarge).
func CheckHeader(r io.ReadSeeker, lim Limits) (Header, error) {
	s, err := surveyFile(r, lim)
	return s.Header, err
}

// checkSize applies the pixel limits to one stated size.
func (h Header) checkSize(lim Limits) error {
	if h.Width <= 0 || h.Height <= 0 {
		return damaged("the picture has no size", nil)
	}
	most := lim.MaxPixels
	if h.Lossless {
		most = min(most, lim.MaxPNGPixels)
	}
	if h.PixelBytes > 0 && lim.MaxDecodeBytes > 0 {
		// An eighth is left for the copy that is made beside the whole picture.
		most = min(most, lim.MaxDecodeBytes/8*7/int64(h.PixelBytes))
	}
	if h.Type == JPEG && h.Progressive {
		most = min(most, lim.MaxProgressivePixels)
	}
	if h.Width > lim.MaxEdge || h.Height > lim.MaxEdge || h.Pixels() > most {
		return defects.RefuseField(defects.TooLarge, "file", "too_many_pixels",
			fmt.Sprintf("the picture says it is %d × %d pixels; at most %d megapixels and %d pixels a side are taken",
				h.Width, h.Height, most/1_000_000, lim.MaxEdge))
	}
	return nil
}

// damaged is the one refusal for bytes that break their own format.
func damaged(what string, cause error) error {
	return &defects.Error{
		Kind: defects.Invalid, Code: "damaged_file", Field: "file",
		Text: "the file is damaged or incomplete: " + what, Err: cause,
	}
}
