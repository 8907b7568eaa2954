package imaging

import (
	"bytes"
	"fmt"
	"image"
	"image/draw"
	"image/jpeg"
	"io"
	"strings"
	"sync"
	"unicode/utf8"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"
)

const (
	captionPhone    = 390 // pixels across a phone's screen
	captionSize     = 12  // pixels of type on it
	captionQuality  = 85
	captionMost     = 12       // lines after wrapping
	captionLongest  = 400      // characters of one line as given
	captionSmallest = 320      // pixels across, so that the type has room
	captionPixels   = 64 << 20 // no view copy is larger
)

// Caption puts lines of text on a white strip below a view copy, over no part of
// the picture, and writes it as a JPEG without metadata other than the colour profile. The first line is bold.
// The type is as large as 12 pixels on a phone that shows the picture across its
// screen; long lines are wrapped. A copy narrower than 320 pixels gets white
// beside it.
func Caption(copyOf io.Reader, lines []string) (Picture, error) {
	data, err := io.ReadAll(io.LimitReader(copyOf, maxCopy))
	if err != nil {
		return Picture{}, fmt.Errorf("read view copy: %w", err)
	}
	conf, err := jpeg.DecodeConfig(bytes.NewReader(data))
	if err != nil || conf.Width*conf.Height > captionPixels {
		return Picture{}, damaged("the view copy cannot be read", err)
	}
	img, err := jpeg.Decode(bytes.NewReader(data))
	if err != nil {
		return Picture{}, damaged("the view copy cannot be read", err)
	}
	strip, err := captionStrip(max(img.Bounds().Dx(), captionSmallest), lines)
	if err != nil {
		return Picture{}, err
	}
	s, err := surveyFile(bytes.NewReader(data), DefaultLimits())
	if err != nil {
		return Picture{}, err
	}
	return encode(stacked(img, strip), captionQuality, s.profile(img, DefaultLimits()))
}

// captionStrip draws the text black on white, so wide.
func captionStrip(width int, lines []string) (*image.Gray, error) {
	size := float64(width) * captionSize / captionPhone
	bold, err := captionFace(gobold.TTF, size)
	if err != nil {
		return nil, err
	}
	defer bold.Close()
	plain, err := captionFace(goregular.TTF, size)
	if err != nil {
		return nil, err
	}
	defer plain.Close()
	margin := int(size * 0.6)
	type drawn struct {
		text string
		face font.Face
	}
	var all []drawn
	for i, line := range lines {
		face := plain
		if i == 0 {
			face = bold
		}
		for _, part := range wrapped(line, face, width-2*margin) {
			all = append(all, drawn{part, face})
		}
	}
	all = all[:min(len(all), captionMost)]
	pitch := int(size * 1.35)
	strip := image.NewGray(image.Rect(0, 0, width, 2*margin+len(all)*pitch))
	draw.Draw(strip, strip.Rect, image.White, image.Point{}, draw.Src)
	for i, line := range all {
		d := font.Drawer{Dst: strip, Src: image.Black, Face: line.face}
		d.Dot = fixed.P(margin, margin+i*pitch+int(size))
		d.DrawString(line.text)
	}
	return strip, nil
}

// captionFonts are read once; they are the Go fonts, under the licence of Go.
var captionFonts sync.Map

func captionFace(ttf []byte, size float64) (font.Face, error) {
	key := &ttf[0]
	parsed, known := captionFonts.Load(key)
	if !known {
		f, err := opentype.Parse(ttf)
		if err != nil {
			return nil, fmt.Errorf("read font: %w", err)
		}
		parsed, _ = captionFonts.LoadOrStore(key, f)
	}
	return opentype.NewFace(parsed.(*opentype.Font), &opentype.FaceOptions{Size: size, DPI: 72, Hinting: font.HintingFull})
}

// wrapped cuts a line between words, and within a word that is too long.
func wrapped(line string, face font.Face, width int) (out []string) {
	if runes := []rune(line); len(runes) > captionLongest {
		line = string(runes[:captionLongest]) + "…"
	}
	fits := func(s string) bool { return font.MeasureString(face, s).Ceil() <= width }
	current := ""
	for word := range strings.FieldsSeq(line) {
		if next := strings.TrimSpace(current + " " + word); fits(next) {
			current = next
			continue
		}
		if current != "" {
			out = append(out, current)
		}
		for !fits(word) {
			n := len(word)
			for n > 0 && !fits(word[:n]) {
				_, last := utf8.DecodeLastRuneInString(word[:n])
				n -= last
			}
			if n == 0 {
				break
			}
			out, word = append(out, word[:n]), word[n:]
		}
		current = word
	}
	if current != "" {
		out = append(out, current)
	}
	return out
}

// stacked puts the strip below the picture. A picture in planes stays so: its
// pixels are not turned into another colour space and back.
func stacked(img image.Image, strip *image.Gray) image.Image {
	b, s := img.Bounds(), strip.Bounds()
	size := image.Rect(0, 0, max(b.Dx(), s.Dx()), b.Dy()+s.Dy())
	if m, ok := img.(*image.YCbCr); ok && m.SubsampleRatio == image.YCbCrSubsampleRatio420 {
		out := image.NewYCbCr(size, image.YCbCrSubsampleRatio420)
		fill(out.Y, 255)
		fill(out.Cb, 128)
		fill(out.Cr, 128)
		copyRows(out.Y, out.YStride, m.Y, m.YStride, b.Dx(), b.Dy())
		copyRows(out.Cb, out.CStride, m.Cb, m.CStride, (b.Dx()+1)/2, (b.Dy()+1)/2)
		copyRows(out.Cr, out.CStride, m.Cr, m.CStride, (b.Dx()+1)/2, (b.Dy()+1)/2)
		copyRows(out.Y[b.Dy()*out.YStride:], out.YStride, strip.Pix, strip.Stride, s.Dx(), s.Dy())
		return out
	}
	out := image.NewRGBA(size)
	draw.Draw(out, size, image.White, image.Point{}, draw.Src)
	draw.Draw(out, b.Sub(b.Min), img, b.Min, draw.Src)
	draw.Draw(out, s.Add(image.Pt(0, b.Dy())), strip, image.Point{}, draw.Src)
	return out
}

func fill(p []byte, v byte) {
	for i := range p {
		p[i] = v
	}
}

func copyRows(dst []byte, dstStride int, src []byte, srcStride, w, h int) {
	for y := range h {
		copy(dst[y*dstStride:y*dstStride+w], src[y*srcStride:y*srcStride+w])
	}
}
