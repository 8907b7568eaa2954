package imaging

import (
	"image"
	"strconv"

	"golang.org/x/image/font"
	"golang.org/x/image/font/basicfont"
	"golang.org/x/image/math/fixed"
)

// text draws words with their top left corner at a pixel, each dot of the
// small built-in font as a square of the given size.
func (c *canvas) text(x, y, dot int, words string, t tone) {
	face := basicfont.Face7x13
	w := font.MeasureString(face, words).Ceil()
	mask := image.NewAlpha(image.Rect(0, 0, w, face.Height))
	d := font.Drawer{Dst: mask, Src: image.Opaque, Face: face, Dot: fixed.P(0, face.Ascent)}
	d.DrawString(words)
	for my := range face.Height {
		for mx := range w {
			if mask.AlphaAt(mx, my).A > 127 {
				c.fill(x+mx*dot, y+my*dot, x+(mx+1)*dot, y+(my+1)*dot, t, 0, 0)
			}
		}
	}
}

// label draws a small white board with words in the lower right corner, as
// held beside the work.
func (c *canvas) label(words string) {
	if len(words) > 24 {
		words = words[:24]
	}
	face := basicfont.Face7x13
	n := font.MeasureString(face, words).Ceil()
	dot := max(1, min(c.height()/160, (c.width()*2/3)/max(n, 1)))
	pad := 4 * dot
	w, h := n*dot+2*pad, face.Height*dot+2*pad
	x, y := c.width()-w-c.width()/40, c.height()-h-c.height()/8
	c.shade(x+dot, y+dot, x+w+2*dot, y+h+2*dot, -50)
	c.fill(x, y, x+w, y+h, rgb(40, 44, 48), 0, 0)
	c.fill(x+dot, y+dot, x+w-dot, y+h-dot, rgb(244, 243, 238), 0, 1)
	c.text(x+pad, y+pad, dot, words, rgb(24, 26, 30))
}

// tape draws a tape measure along the bottom: a tick each centimetre, a
// longer one each five, and the centimetres in figures each ten.
func (c *canvas) tape() {
	high := max(10, c.height()/22)
	top := c.height() - high - c.height()/50
	c.shade(0, top+high, c.width(), top+high+max(2, high/8), -60)
	c.fill(0, top, c.width(), top+high, rgb(236, 200, 40), 0, 1)
	ink := rgb(28, 26, 22)
	thick := max(1, c.px(1))
	dot := max(1, high/30)
	for cm := 0; ; cm++ {
		x := c.px(float64(cm) * 10)
		if x >= c.width() {
			return
		}
		long := high / 5
		switch {
		case cm%10 == 0:
			long = high * 2 / 5
			c.text(x+2*dot, top+high/2, dot, strconv.Itoa(cm), ink)
		case cm%5 == 0:
			long = high * 3 / 10
		}
		c.fill(x, top, x+thick, top+long, ink, 0, 0)
	}
}
