package hevc

import (
	"bytes"
	"compress/gzip"
	"context"
	_ "embed"
	"errors"
	"fmt"
	"image"
	"io"

	"github.com/tetratelabs/wazero"
	"github.com/tetratelabs/wazero/api"
	"github.com/tetratelabs/wazero/experimental"
	"github.com/tetratelabs/wazero/imports/wasi_snapshot_preview1"
)

//go:embed wasm/heif.wasm.gz
var module []byte

// MaxPixels is the largest picture that is decoded: one that needs no more
// memory than the sandbox has, by measurement (7.7 megapixels went through).
const MaxPixels = 6_000_000

// Memory of the sandbox in pages of 64 KiB.
const (
	maxPages = 96 << 4
	// renewPages is when an instance is replaced by a fresh one between two
	// pictures: the module keeps a copy of every picture it has decoded.
	renewPages = 32 << 4
)

// ErrPicture says that the picture is broken or not of a kind that is decoded.
var ErrPicture = errors.New("no picture comes out of the HEVC data")

// Sandbox is the module, compiled, with one instance. It serves one caller at
// a time.
type Sandbox struct {
	runtime  wazero.Runtime
	compiled wazero.CompiledModule
	instance *instance
	memory   arena
}

// NewSandbox compiles the module, which takes some 0.6 s of processor time and
// 45 MB.
func NewSandbox(ctx context.Context) (*Sandbox, error) {
	return newSandbox(ctx, wazero.NewRuntimeConfig())
}

func newSandbox(ctx context.Context, config wazero.RuntimeConfig) (*Sandbox, error) {
	z, err := gzip.NewReader(bytes.NewReader(module))
	if err != nil {
		return nil, fmt.Errorf("HEVC module: %w", err)
	}
	code, err := io.ReadAll(z)
	if err != nil {
		return nil, fmt.Errorf("HEVC module: %w", err)
	}
	s := &Sandbox{runtime: wazero.NewRuntimeWithConfig(ctx, config.WithMemoryLimitPages(maxPages))}
	if s.compiled, err = s.runtime.CompileModule(ctx, code); err == nil {
		_, err = wasi_snapshot_preview1.Instantiate(ctx, s.runtime)
	}
	if err != nil {
		return nil, errors.Join(fmt.Errorf("HEVC module: %w", err), s.Close())
	}
	return s, nil
}

// Close gives the memory back.
func (s *Sandbox) Close() error {
	if err := errors.Join(s.runtime.Close(context.Background()), s.memory.giveBack()); err != nil {
		return fmt.Errorf("close the HEVC module: %w", err)
	}
	return nil
}

// Picture decodes a HEIC file that holds one coded picture, of at most
// MaxPixels. It gives *image.Gray or *image.YCbCr with 8 bits a sample, in the
// range and matrix the file is coded in. ErrPicture when the file is at fault.
func (s *Sandbox) Picture(ctx context.Context, file []byte) (image.Image, error) {
	if s.instance == nil {
		mod, err := s.runtime.InstantiateModule(experimental.WithMemoryAllocator(ctx, &s.memory), s.compiled, wazero.NewModuleConfig().WithName("").WithStartFunctions("_initialize"))
		if err != nil {
			return nil, fmt.Errorf("start the HEVC module: %w", err)
		}
		s.instance = &instance{ctx: ctx, mod: mod}
	}
	s.instance.ctx = ctx
	img, err := s.instance.picture(file)
	if err != nil || s.instance.mod.Memory().Size()>>16 > renewPages {
		// After a fault nothing in there is to be relied on.
		err = errors.Join(err, s.instance.mod.Close(ctx))
		s.instance = nil
	}
	return img, err
}

// instance is one life of the module, with its memory.
type instance struct {
	ctx context.Context
	mod api.Module
}

// call runs a function of the module; a trap inside is the picture's fault.
func (i *instance) call(name string, args ...uint64) (uint32, error) {
	out, err := i.mod.ExportedFunction(name).Call(i.ctx, args...)
	if err != nil {
		return 0, fmt.Errorf("%w: %w", ErrPicture, err)
	}
	if len(out) == 0 {
		return 0, nil
	}
	return uint32(out[0]), nil
}

func (i *instance) alloc(n int) (uint32, error) {
	at, err := i.call("malloc", uint64(n))
	if err == nil && at == 0 {
		err = fmt.Errorf("%w: out of memory", ErrPicture)
	}
	return at, err
}

// Numbers of libheif.
const (
	colourYCbCr = 0
	colourGrey  = 2
	chroma420   = 1
	chroma422   = 2
	chroma444   = 3
	answers     = 5 // width, height, colour space, chroma, premultiplied
)

func (i *instance) picture(file []byte) (image.Image, error) {
	in, err := i.alloc(len(file))
	if err != nil {
		return nil, err
	}
	told, err := i.alloc(4 * answers)
	if err != nil {
		return nil, err
	}
	mem := i.mod.Memory()
	if !mem.Write(in, file) {
		return nil, ErrPicture
	}
	args := []uint64{uint64(in), uint64(len(file)), 1}
	for n := range uint64(answers) {
		args = append(args, uint64(told)+4*n)
	}
	if ok, err := i.call("decode", append(args, 0)...); err != nil || ok == 0 {
		return nil, errors.Join(ErrPicture, err)
	}
	var v [answers]uint32
	for n := range v {
		v[n], _ = mem.ReadUint32Le(told + uint32(4*n))
	}
	l, err := layoutOf(v[0], v[1], v[2], v[3])
	if err != nil {
		return nil, err
	}
	out, err := i.alloc(l.size())
	if err != nil {
		return nil, err
	}
	args[2] = 0
	if ok, err := i.call("decode", append(args, uint64(out))...); err != nil || ok == 0 {
		return nil, errors.Join(ErrPicture, err)
	}
	pix, ok := mem.Read(out, uint32(l.size()))
	if !ok {
		return nil, ErrPicture
	}
	img := l.image(bytes.Clone(pix))
	for _, at := range []uint32{in, told, out} {
		if _, err := i.call("free", uint64(at)); err != nil {
			return nil, err
		}
	}
	return img, nil
}

// layout says how the module lays out a picture's planes.
type layout struct {
	w, h   int
	grey   bool
	ratio  image.YCbCrSubsampleRatio
	cw, ch int
}

func layoutOf(w, h, colour, chroma uint32) (layout, error) {
	if w == 0 || h == 0 || uint64(w)*uint64(h) > MaxPixels {
		return layout{}, fmt.Errorf("%w: %d × %d pixels", ErrPicture, w, h)
	}
	l := layout{w: int(w), h: int(h), cw: int(w), ch: int(h)}
	switch {
	case colour == colourGrey:
		l.grey = true
		l.cw, l.ch = 0, 0
	case colour == colourYCbCr && chroma == chroma420:
		l.ratio, l.cw, l.ch = image.YCbCrSubsampleRatio420, (l.w+1)/2, (l.h+1)/2
	case colour == colourYCbCr && chroma == chroma422:
		l.ratio, l.cw = image.YCbCrSubsampleRatio422, (l.w+1)/2
	case colour == colourYCbCr && chroma == chroma444:
		l.ratio = image.YCbCrSubsampleRatio444
	default:
		return layout{}, fmt.Errorf("%w: colour space %d, chroma %d", ErrPicture, colour, chroma)
	}
	return l, nil
}

// stride is libheif's: an even number of samples, at least 64, in steps of 16.
func stride(w int) int { return (max((w+1)&^1, 64) + 15) &^ 15 }

func (l layout) size() int {
	n := stride(l.w) * l.h
	if !l.grey {
		n += 2 * stride(l.cw) * l.ch
	}
	return n
}

func (l layout) image(pix []byte) image.Image {
	r := image.Rect(0, 0, l.w, l.h)
	if l.grey {
		return &image.Gray{Pix: pix, Stride: stride(l.w), Rect: r}
	}
	y, c := stride(l.w)*l.h, stride(l.cw)*l.ch
	return &image.YCbCr{
		Y: pix[:y:y], Cb: pix[y : y+c : y+c], Cr: pix[y+c:],
		YStride: stride(l.w), CStride: stride(l.cw), SubsampleRatio: l.ratio, Rect: r,
	}
}
