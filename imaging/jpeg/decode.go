package jpeg

import (
	"context"
	"image"
	"io"
)

// DefaultMaxPixels is the most a picture may have when the caller says nothing.
const DefaultMaxPixels = 100_000_000

// Options say what is wanted; the zero value means full size.
type Options struct {
	Scale     int   // n of n eighths, 1 … 8; 0 means Full
	MaxPixels int64 // width × height at full size; 0 means DefaultMaxPixels
}

// Picture is a decoded picture, or a band of its rows.
type Picture struct {
	Width, Height int             // pixels at full size
	Scale         int             // n of the n eighths that Image holds
	Bounds        image.Rectangle // of all samples of Y: n eighths of the size, rounded up
	// Image is *image.Gray or *image.YCbCr with the samples of Bounds, or of
	// some rows of it. Its sample (x, y) covers the square from (8x/n, 8y/n) of
	// 8/n pixels.
	Image image.Image
}

// Decode reads one JPEG picture up to its end marker; what follows is left
// alone. Errors: ErrUnsupported, ErrCorrupt, ErrTooLarge, the context's, or
// that of the reader.
func Decode(ctx context.Context, r io.Reader, o Options) (*Picture, error) {
	d := newDecoder(r, o)
	if err := d.file(ctx); err != nil {
		return nil, err
	}
	return d.picture(d.frame.rows()), nil
}

// DecodeBands reads like Decode and hands the picture to take in bands of whole
// rows, from top to bottom, as they are read. A band's memory is used again for
// the next. A picture is sound only when nil is returned in the end: damage in
// its last row is found when all others were taken. Errors: those of Decode,
// and that of take.
//
// A band is one row of minimum coded units, unless every component has a scan
// of its own: such a picture comes as one band.
func DecodeBands(ctx context.Context, r io.Reader, o Options, take func(*Picture) error) error {
	d := newDecoder(r, o)
	d.take = take
	if err := d.file(ctx); err != nil {
		return err
	}
	if d.banded {
		return nil
	}
	return take(d.picture(d.frame.rows()))
}

// decoder walks over one file.
type decoder struct {
	src     *source
	options Options
	tables  tables
	frame   *frame
	inverse inverse

	take   func(*Picture) error
	banded bool // the planes hold one row of MCUs, which take has got
	top    int  // the row of MCUs that the planes begin with

	// watch sees every block after it has become samples; for tests.
	watch func(c *component, col, row int, b *block)
}

func newDecoder(r io.Reader, o Options) *decoder {
	if o.Scale < 1 || o.Scale > Full {
		o.Scale = Full
	}
	if o.MaxPixels <= 0 {
		o.MaxPixels = DefaultMaxPixels
	}
	return &decoder{src: &source{r: r}, options: o, inverse: inverseFor(o.Scale)}
}

// picture is what the planes hold: rows of MCUs from the top one on.
func (d *decoder) picture(rows int) *Picture {
	f, n := d.frame, d.options.Scale
	bounds := image.Rect(0, 0, scaled(f.width, n), scaled(f.height, n))
	held := bounds
	held.Min.Y = d.top * f.vMax * n
	held.Max.Y = min(held.Max.Y, (d.top+rows)*f.vMax*n)
	return &Picture{Width: f.width, Height: f.height, Scale: n, Bounds: bounds, Image: f.image(held)}
}

// file reads from SOI to EOI (figure B.2).
func (d *decoder) file(ctx context.Context) error {
	var soi [2]byte
	if err := d.src.full(soi[:]); err != nil {
		return err
	}
	if soi != [2]byte{markerFill, markerSOI} {
		return corrupt("no start of image")
	}
	for {
		m, err := d.src.marker()
		if err != nil {
			return err
		}
		if m == markerEOI {
			return d.complete()
		}
		if err := d.segment(ctx, m); err != nil {
			return err
		}
	}
}

// segment deals with one marker and what belongs to it.
func (d *decoder) segment(ctx context.Context, m byte) error {
	switch {
	case m == markerTEM, m >= markerRST0 && m <= markerRST7:
		return nil // no parameters; some writers end the data with a restart
	case m == markerSOI:
		return corrupt("a picture begins within the picture")
	case m == markerDAC, m == markerDHP, m == markerEXP, m == markerDNL, m == markerJPG,
		m >= markerSOF2 && m <= markerSOF15 && m != markerDHT:
		return unsupported("neither baseline nor extended sequential coding")
	case m == markerDQT, m == markerDHT, m == markerDRI, m == markerSOF0, m == markerSOF1, m == markerSOS, m == markerAPP14:
		p, err := d.src.segment()
		if err != nil {
			return err
		}
		return d.parameters(ctx, m, p)
	}
	n, err := d.src.length()
	if err != nil {
		return err
	}
	return d.src.skip(n)
}

func (d *decoder) parameters(ctx context.Context, m byte, p []byte) error {
	switch m {
	case markerDQT:
		return d.tables.parseQuant(p)
	case markerDHT:
		return d.tables.parseHuffman(p)
	case markerDRI:
		return d.tables.parseRestart(p)
	case markerSOS:
		return d.scan(ctx, p)
	case markerAPP14:
		return checkAdobe(p)
	}
	return d.start(p)
}

// checkAdobe looks for the transform flag that Adobe's APP14 segment ends with:
// 0 means that three components are RGB.
func checkAdobe(p []byte) error {
	if len(p) >= 12 && string(p[:5]) == "Adobe" && p[11] != 1 {
		return unsupported("Adobe colours other than YCbCr")
	}
	return nil
}

// start takes the frame header and makes room for the picture.
func (d *decoder) start(p []byte) error {
	if d.frame != nil {
		return corrupt("two frame headers")
	}
	f, err := parseFrame(p)
	if err != nil {
		return err
	}
	if int64(f.width)*int64(f.height) > d.options.MaxPixels {
		return ErrTooLarge
	}
	d.frame = f
	return nil
}

// scan reads one scan into the planes.
func (d *decoder) scan(ctx context.Context, p []byte) error {
	if d.frame == nil {
		return corrupt("a scan before the frame header")
	}
	s, err := newScan(p, d.frame, &d.tables)
	if err != nil {
		return err
	}
	n := d.options.Scale
	if d.frame.comps[0].plane.pix == nil {
		rows := d.frame.rows()
		if d.banded = d.take != nil && len(s.parts) == len(d.frame.comps); d.banded {
			rows = 1
		}
		d.frame.makePlanes(n, rows)
	}
	s.in.src = d.src
	s.put = func(c *component, col, row int, b *block) {
		row -= d.top * c.v
		d.inverse(b, c.plane.pix[row*n*c.plane.stride+col*n:], c.plane.stride)
		if d.watch != nil {
			d.watch(c, col, row, b)
		}
	}
	return s.run(ctx, d.endRow)
}

// endRow hands a row of MCUs on where the planes have no room for another.
func (d *decoder) endRow(row int) error {
	if !d.banded {
		return nil
	}
	d.top = row
	if err := d.take(d.picture(1)); err != nil {
		return err
	}
	d.top = row + 1
	return nil
}

// complete says whether every component was there.
func (d *decoder) complete() error {
	if d.frame == nil {
		return corrupt("no picture")
	}
	for _, c := range d.frame.comps {
		if !c.done {
			return corrupt("a component is missing")
		}
	}
	return nil
}
