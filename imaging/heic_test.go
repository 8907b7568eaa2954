package imaging_test

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"testing"

	dimaging "github.com/disintegration/imaging"
	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/imaging"
	"storeyrod/imaging/hevc"
)

// oneBox is the sandbox of all tests, compiled once and used by one at a time.
type oneBox struct {
	mu  sync.Mutex
	box *hevc.Sandbox
}

var testBox oneBox

func (o *oneBox) Picture(ctx context.Context, file []byte) (image.Image, error) {
	o.mu.Lock()
	defer o.mu.Unlock()
	if o.box == nil {
		var err error
		if o.box, err = hevc.NewSandbox(context.Background()); err != nil {
			return nil, err
		}
	}
	return o.box.Picture(ctx, file)
}

func (o *oneBox) Close() error { return nil }

func inProcess(context.Context, int64) (imaging.HEVC, error) { return &testBox, nil }

func deriveHEIC(t testing.TB, b []byte, o imaging.DeriveOptions) (imaging.Copies, error) {
	t.Helper()
	o.HEVC = inProcess
	c, _, err := imaging.ReadCapture(bytes.NewReader(b), imaging.DefaultLimits())
	require.NoError(t, err)
	return imaging.Derive(t.Context(), bytes.NewReader(b), c, o)
}

// heifConvert decodes a file with the libheif that is installed.
func heifConvert(t *testing.T, b []byte) image.Image {
	t.Helper()
	program, dir := tool(t, "heif-convert"), t.TempDir()
	in, out := filepath.Join(dir, "in.heic"), filepath.Join(dir, "out.png")
	require.NoError(t, os.WriteFile(in, b, 0o600))
	said, err := exec.Command(program, in, out).CombinedOutput()
	require.NoError(t, err, "%s", said)
	f, err := os.Open(out)
	require.NoError(t, err, "%s", said)
	defer f.Close()
	img, err := png.Decode(f)
	require.NoError(t, err)
	return img
}

// colourPSNR is psnr over red, green and blue.
func colourPSNR(t *testing.T, a, b image.Image) float64 {
	t.Helper()
	require.Equal(t, a.Bounds().Size(), b.Bounds().Size())
	worst := 1000.0
	for _, channel := range []func(color.Color) color.Color{
		func(c color.Color) color.Color { r, _, _, _ := c.RGBA(); return color.Gray16{uint16(r)} },
		func(c color.Color) color.Color { _, g, _, _ := c.RGBA(); return color.Gray16{uint16(g)} },
		func(c color.Color) color.Color { _, _, b, _ := c.RGBA(); return color.Gray16{uint16(b)} },
	} {
		worst = min(worst, psnr(oneChannel{a, channel}, oneChannel{b, channel}))
	}
	return worst
}

type oneChannel struct {
	image.Image
	pick func(color.Color) color.Color
}

func (c oneChannel) At(x, y int) color.Color { return c.pick(c.Image.At(x, y)) }

func TestRealHEICPhotosLookAsLibheifShowsThem(t *testing.T) {
	t.Parallel()
	for _, name := range []string{"test.heic", "test8.heic", "test12.heic", "gray.heic"} {
		b := sample(t, "gen2brain/"+name)
		got, err := deriveHEIC(t, b, imaging.DeriveOptions{PreviewQuality: 100})
		require.NoError(t, err, name)
		want := heifConvert(t, b)
		require.Greater(t, colourPSNR(t, want, decoded(t, got.Preview)), 34.0, name)
		require.LessOrEqual(t, max(got.Thumb.Width, got.Thumb.Height), 320)
	}
}

// grid is a HEIC photo put together from tiles that heif-enc has made.
type grid struct {
	size       image.Point // of the picture
	cols, rows int
	configs    [][]byte // hvcC of each tile
	data       [][]byte
	tile       image.Point
	extra      [][]byte // further properties of the picture, in order
}

// gridOf cuts a picture into tiles, each coded alone. What lies beyond the
// picture repeats its edge.
func gridOf(t testing.TB, img image.Image, tile image.Point, args ...string) grid {
	t.Helper()
	size := img.Bounds().Size()
	g := grid{size: size, tile: tile, cols: (size.X + tile.X - 1) / tile.X, rows: (size.Y + tile.Y - 1) / tile.Y}
	for y := range g.rows {
		for x := range g.cols {
			part := image.NewNRGBA(image.Rectangle{Max: tile})
			for py := range tile.Y {
				for px := range tile.X {
					part.Set(px, py, img.At(min(x*tile.X+px, size.X-1), min(y*tile.Y+py, size.Y-1)))
				}
			}
			b := heifEncode(t, part, args...)
			at := bytes.Index(b, []byte("hvcC"))
			n := binary.BigEndian.Uint32(b[at-4:])
			g.configs = append(g.configs, b[at+4:at-4+int(n)])
			g.data = append(g.data, b[bytes.LastIndex(b, []byte("mdat"))+4:])
		}
	}
	return g
}

// heifEncode has heif-enc code a picture.
func heifEncode(t testing.TB, img image.Image, args ...string) []byte {
	t.Helper()
	dir := t.TempDir()
	in, out := filepath.Join(dir, "in.png"), filepath.Join(dir, "out.heic")
	var buf bytes.Buffer
	require.NoError(t, png.Encode(&buf, img))
	require.NoError(t, os.WriteFile(in, buf.Bytes(), 0o600))
	program, err := exec.LookPath("heif-enc")
	if err != nil && os.Getenv("CI") != "true" {
		t.Skip("heif-enc is not installed")
	}
	require.NoError(t, err)
	said, err := exec.Command(program, append(args, in, "-o", out)...).CombinedOutput()
	require.NoError(t, err, "%s", said)
	b, err := os.ReadFile(out)
	require.NoError(t, err)
	return b
}

func ispeBox(p image.Point) []byte {
	b := binary.BigEndian.AppendUint32(make([]byte, 4), uint32(p.X))
	return isoBox("ispe", binary.BigEndian.AppendUint32(b, uint32(p.Y)))
}

func be(n int, v int) []byte { // n bytes
	return binary.BigEndian.AppendUint64(nil, uint64(v))[8-n:]
}

// bytes lays the file out: item 1 is the grid, the tiles follow.
func (g grid) bytes() []byte {
	n := len(g.data)
	payload := append([]byte{0, 0, byte(g.rows - 1), byte(g.cols - 1)}, append(be(2, g.size.X), be(2, g.size.Y)...)...)
	infe := func(id int, kind string) []byte {
		hidden := byte(min(id-1, 1)) // tiles are no pictures of their own
		return isoBox("infe", []byte{2, 0, 0, hidden}, be(2, id), []byte{0, 0}, []byte(kind), []byte{0})
	}
	infos, refs := infe(1, "grid"), append(be(2, 1), be(2, n)...)
	props := append([][]byte{ispeBox(g.size), ispeBox(g.tile)}, g.extra...)
	uses := append(be(2, 1), byte(1+len(g.extra)), 1)
	for i := range g.extra {
		uses = append(uses, byte(3+i)|0x80)
	}
	for i := range n {
		infos = append(infos, infe(i+2, "hvc1")...)
		refs = append(refs, be(2, i+2)...)
		props = append(props, isoBox("hvcC", g.configs[i]))
		uses = append(append(uses, be(2, i+2)...), 2, 2, byte(len(props))|0x80)
	}
	meta := func(at int) []byte {
		places := append(append(be(2, 1), 0, 1, 0, 0, 0, 1), append(be(4, 0), be(4, len(payload))...)...) // in idat
		for i, d := range g.data {
			places = append(append(places, be(2, i+2)...), 0, 0, 0, 0, 0, 1)
			places = append(append(places, be(4, at)...), be(4, len(d))...)
			at += len(d)
		}
		return isoBox("meta", make([]byte, 4),
			isoBox("hdlr", make([]byte, 8), []byte("pict"), make([]byte, 13)),
			isoBox("pitm", []byte{0, 0, 0, 0, 0, 1}),
			isoBox("iinf", make([]byte, 4), be(2, n+1), infos),
			isoBox("iref", make([]byte, 4), isoBox("dimg", refs)),
			isoBox("iprp", isoBox("ipco", props...), isoBox("ipma", make([]byte, 4), be(4, n+1), uses)),
			isoBox("idat", payload),
			isoBox("iloc", []byte{1, 0, 0, 0, 0x44, 0}, be(2, n+1), places))
	}
	head := isoBox("ftyp", []byte("heic\x00\x00\x00\x00mif1heic"))
	return bytes.Join([][]byte{head, meta(len(head) + len(meta(0)) + 8), isoBox("mdat", g.data...)}, nil)
}

// painted is a picture with detail and four distinct corners.
func painted(w, h int) *image.NRGBA {
	img := corners(w, h)
	for y := 0; y < h; y++ {
		for x := 0; x < w; x++ {
			if (x/16+y/8)%5 == 0 {
				img.SetNRGBA(x, y, color.NRGBA{uint8(x * 255 / w), uint8(y * 255 / h), 128, 255})
			}
		}
	}
	return img
}

func clap(w, h, dx, dy int) []byte {
	var b []byte
	for _, v := range []int{w, h, dx, dy} {
		b = binary.BigEndian.AppendUint32(b, uint32(int32(v)))
		b = binary.BigEndian.AppendUint32(b, 1)
	}
	return isoBox("clap", b)
}

// Every cut, turn and mirror is held against libheif's own decoder.
func TestGridsAreCutTurnedAndMirroredAsLibheifDoes(t *testing.T) {
	t.Parallel()
	tool(t, "heif-enc")
	made := gridOf(t, painted(320, 200), image.Pt(128, 128), "-q", "90")
	turn := func(n byte) []byte { return isoBox("irot", []byte{n}) }
	mirror := func(axis byte) []byte { return isoBox("imir", []byte{axis}) }
	cases := map[string][][]byte{
		"plain": nil, "cut": {clap(200, 100, 20, -10)}, "cut and turned": {clap(204, 152, 0, 0), turn(1)},
	}
	for n := byte(1); n <= 3; n++ {
		cases[fmt.Sprintf("turned %d", n)] = [][]byte{turn(n)}
		for axis := range byte(2) {
			cases[fmt.Sprintf("turned %d and mirrored %d", n, axis)] = [][]byte{turn(n), mirror(axis)}
			cases[fmt.Sprintf("mirrored %d and turned %d", axis, n)] = [][]byte{mirror(axis), turn(n)}
		}
	}
	cases["mirrored 0"], cases["mirrored 1"] = [][]byte{mirror(0)}, [][]byte{mirror(1)}
	for name, extra := range cases {
		g := made
		g.extra = extra
		b := g.bytes()
		got, err := deriveHEIC(t, b, imaging.DeriveOptions{PreviewQuality: 100})
		require.NoError(t, err, name)
		want := heifConvert(t, b)
		// Sharp edges of colour differ by how half of the samples are spread out.
		require.Greater(t, colourPSNR(t, want, decoded(t, got.Preview)), 16.0, name)
		require.Greater(t, psnr(want, decoded(t, got.Preview)), 32.0, name)
	}
}

func TestAHEICIsTurnedByItsContainerAndNotAgainByExif(t *testing.T) {
	t.Parallel()
	b := gridOf(t, painted(320, 200), image.Pt(256, 256))
	b.extra = [][]byte{isoBox("irot", []byte{3})}
	for orientation := 1; orientation <= 8; orientation++ {
		got, err := imaging.Derive(t.Context(), bytes.NewReader(b.bytes()), defects.Capture{Orientation: orientation}, imaging.DeriveOptions{HEVC: inProcess})
		require.NoError(t, err)
		require.Equal(t, image.Pt(200, 320), decoded(t, got.Preview).Bounds().Size())
		requireClose(t, color.NRGBA{220, 30, 30, 255}, dimaging.Blur(decoded(t, got.Preview), 4).At(170, 20), 60)
	}
	c, _, err := imaging.ReadCapture(bytes.NewReader(b.bytes()), imaging.DefaultLimits())
	require.NoError(t, err)
	require.Equal(t, [3]int{320, 200, 1}, [3]int{c.Width, c.Height, c.Orientation}, "as stored")
}

// Tiles are reduced on their way into the picture, which must not show.
func TestLargeGridsAreReducedTileByTile(t *testing.T) {
	t.Parallel()
	img := dimaging.Blur(painted(600, 420), 1.2)
	b := gridOf(t, img, image.Pt(256, 256), "-q", "90").bytes()
	whole := heifConvert(t, b)
	for _, edge := range []int{600, 240, 120, 60} {
		got, err := deriveHEIC(t, b, imaging.DeriveOptions{PreviewEdge: edge, ThumbEdge: 40, PreviewQuality: 100})
		require.NoError(t, err)
		want := dimaging.Resize(whole, got.Preview.Width, got.Preview.Height, dimaging.Lanczos)
		require.Greater(t, colourPSNR(t, want, decoded(t, got.Preview)), 16.0, "%d", edge)
		require.Greater(t, psnr(want, decoded(t, got.Preview)), 31.0, "%d", edge)
	}
}

// Every matrix and range heif-enc can be told of comes out in the same colours.
func TestColoursDoNotDependOnHowTheyAreCoded(t *testing.T) {
	t.Parallel()
	img := dimaging.Blur(corners(128, 96), 2)
	for name, args := range map[string][]string{
		"as it comes": nil, "BT.601": {"--matrix_coefficients", "6"}, "BT.709": {"--matrix_coefficients", "1"},
		"BT.2020": {"--matrix_coefficients", "9"}, "narrow range": {"--full_range_flag", "0"},
		"BT.709 narrow": {"--matrix_coefficients", "1", "--full_range_flag", "0"},
	} {
		got, err := deriveHEIC(t, heifEncode(t, img, append(args, "-q", "95")...), imaging.DeriveOptions{PreviewQuality: 100})
		require.NoError(t, err, name)
		have := decoded(t, got.Preview)
		for _, at := range []image.Point{{20, 20}, {108, 20}, {20, 76}, {108, 76}} {
			requireClose(t, img.At(at.X, at.Y), have.At(at.X, at.Y), 8)
		}
	}
}

func TestOddAndTinyHEICPicturesKeepTheirSize(t *testing.T) {
	t.Parallel()
	for _, size := range []image.Point{{65, 33}, {33, 65}, {17, 16}, {200, 99}} {
		b := heifEncode(t, corners(size.X, size.Y))
		got, err := deriveHEIC(t, b, imaging.DeriveOptions{PreviewQuality: 100})
		require.NoError(t, err, "%v", size)
		want := heifConvert(t, b)
		require.Greater(t, psnr(want, decoded(t, got.Preview)), 28.0, "%v", size)
	}
}

func TestAHEICsColourProfileIsKept(t *testing.T) {
	t.Parallel()
	made := gridOf(t, corners(128, 128), image.Pt(128, 128))
	profile := bytes.Repeat([]byte{7}, 400)
	binary.BigEndian.PutUint32(profile, 400)
	copy(profile[16:], "RGB ")
	copy(profile[36:], "acsp")
	made.extra = [][]byte{isoBox("colr", []byte("prof"), profile)}
	got, err := deriveHEIC(t, made.bytes(), imaging.DeriveOptions{})
	require.NoError(t, err)
	require.True(t, bytes.Contains(got.Preview.JPEG, profile))
	require.True(t, bytes.Contains(got.Thumb.JPEG, profile))
	// By numbers alone: Display P3's primaries, sRGB's curve, BT.601, full range.
	made.extra = [][]byte{isoBox("colr", []byte("nclx\x00\x0c\x00\x0d\x00\x06\x80"))}
	got, err = deriveHEIC(t, made.bytes(), imaging.DeriveOptions{})
	require.NoError(t, err)
	path := filepath.Join(t.TempDir(), "p3.jpg")
	require.NoError(t, os.WriteFile(path, got.Preview.JPEG, 0o600))
	said, err := exec.Command(tool(t, "exiftool"), "-ProfileDescription", "-RedMatrixColumn", "-ProfileVersion", "-warning", path).Output()
	require.NoError(t, err)
	require.Regexp(t, `Description\s+: Display P3\n.*: 0\.515\d+ 0\.241\d+ -0\.001\d+\n.*: 4\.0\.0\n$`, string(said))
}

func TestABrokenOrMissingTileIsNeverASuccess(t *testing.T) {
	t.Parallel()
	made := gridOf(t, painted(256, 128), image.Pt(128, 128))
	spoil := func(change func(g *grid)) []byte {
		g := made
		g.data, g.configs = append([][]byte{}, made.data...), append([][]byte{}, made.configs...)
		change(&g)
		return g.bytes()
	}
	for name, b := range map[string][]byte{
		"noise":             spoil(func(g *grid) { g.data[1] = bytes.Repeat([]byte{0xA5}, len(g.data[1])) }),
		"empty":             spoil(func(g *grid) { g.data[1] = nil }),
		"no parameter sets": spoil(func(g *grid) { g.configs[0] = g.configs[0][:22] }),
		"other size":        spoil(func(g *grid) { g.tile = image.Pt(130, 128) }),
		"too few columns":   spoil(func(g *grid) { g.size = image.Pt(300, 128) }),
		"a tile too many":   spoil(func(g *grid) { g.cols, g.size = 1, image.Pt(100, 128) }),
		"cut off":           spoil(func(*grid) {})[:len(made.bytes())-len(made.data[1])/2],
		"cut beyond":        spoil(func(g *grid) { g.extra = [][]byte{clap(300, 100, 0, 0)} }),
	} {
		_, err := deriveHEIC(t, b, imaging.DeriveOptions{})
		require.Error(t, err, name)
		requireRefusal(t, err, defects.Invalid, "damaged_file")
	}
}

func TestHEICWithoutADecoderAndOfOtherKindsIsSaidSo(t *testing.T) {
	t.Parallel()
	_, err := derive(t, sample(t, "gen2brain/test8.heic"), 1, imaging.DeriveOptions{})
	requireRefusal(t, err, defects.UnsupportedType, "no_decoder")
	_, err = deriveHEIC(t, sample(t, "bep/sony-head.heif"), imaging.DeriveOptions{}) // tiles of 8 megapixels
	requireRefusal(t, err, defects.UnsupportedType, "no_decoder")
	// A machine's fault is none of the photo's.
	broken := errors.New("no process")
	_, err = imaging.Derive(t.Context(), bytes.NewReader(sample(t, "gen2brain/test8.heic")), defects.Capture{}, imaging.DeriveOptions{
		HEVC: func(context.Context, int64) (imaging.HEVC, error) { return nil, broken },
	})
	require.ErrorIs(t, err, broken)
	var refusal *defects.Error
	require.False(t, errors.As(err, &refusal))
}
