package imaging

import (
	"bufio"
	"bytes"
	"compress/zlib"
	"encoding/hex"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
)

const pngSignature = "\x89PNG\r\n\x1a\n"

// walkPNG goes over the chunks (PNG, third edition, §5.3) up to IEND. The
// chunk list must be complete: a file that stops half way is damaged.
func (s *survey) walkPNG(lim Limits) error {
	at := int64(len(pngSignature))
	for i := range lim.MaxSegments * 8 {
		head, err := s.src.read(at, 8)
		if err != nil {
			return err
		}
		body := span{at: at + 8, n: int64(be32(head))}
		if body.at+body.n+4 > s.src.size {
			return errShort
		}
		name := string(head[4:8])
		if i == 0 && name != "IHDR" {
			return damaged("the header chunk is missing", nil)
		}
		if name == "IEND" {
			return nil
		}
		if err := s.pngChunk(name, body); err != nil {
			return err
		}
		at = body.at + body.n + 4
	}
	return damaged("too many chunks", nil)
}

func (s *survey) pngChunk(name string, body span) error {
	switch name {
	case "IHDR":
		b, err := s.src.read(body.at, 13)
		if err != nil {
			return err
		}
		if be32(b) > 1<<31-1 || be32(b[4:]) > 1<<31-1 {
			return damaged("the picture's size makes no sense", nil)
		}
		s.Width, s.Height = int(be32(b)), int(be32(b[4:]))
		s.Progressive, s.Lossless, s.Decodable = b[12] == 1, true, true
		s.PixelBytes = pngPixelBytes(b[8], b[9], s.Progressive, false)
		s.pngDepth, s.pngColour = b[8], b[9]
	case "tRNS": // grey with a transparent value is decoded with all four channels
		s.PixelBytes = pngPixelBytes(s.pngDepth, s.pngColour, s.Progressive, true)
	case "eXIf":
		s.exif, s.exifHex = body, false
	case "zTXt":
		s.pngRawProfile(body)
	case "iCCP":
		if len(s.icc) == 0 {
			s.icc, s.iccDeep = []span{body}, true
		}
	}
	return nil
}

// pngPixelBytes is what a pixel of a PNG costs while it is decoded: one byte for
// grey and palettes, else four channels, each of two bytes at 16 bits. An
// interlaced one holds its largest pass, half of the pixels, beside the picture.
func pngPixelBytes(depth, colour byte, interlaced, transparent bool) int {
	const grey, palette = 0, 3
	n := 4
	if colour == palette || (colour == grey && !transparent) {
		n = 1
	}
	if depth == 16 {
		n *= 2
	}
	if interlaced {
		n += (n + 1) / 2
	}
	return n
}

// CheckPNG reads a PNG to its end and holds every chunk to its check sum (PNG,
// third edition, §5.3), without decoding it. The fault is damaged_file.
func CheckPNG(r io.Reader) error {
	in := bufio.NewReaderSize(r, 64<<10)
	if _, err := in.Discard(len(pngSignature)); err != nil {
		return cutOff(err)
	}
	sum := crc32.NewIEEE()
	for {
		var head [8]byte
		if _, err := io.ReadFull(in, head[:]); err != nil {
			return cutOff(err)
		}
		sum.Reset()
		_, _ = sum.Write(head[4:])
		if _, err := io.CopyN(sum, in, int64(be32(head[:]))); err != nil {
			return cutOff(err)
		}
		var stated [4]byte
		if _, err := io.ReadFull(in, stated[:]); err != nil {
			return cutOff(err)
		}
		if be32(stated[:]) != sum.Sum32() {
			return damaged("the check sum of a part of it is wrong; send it again", nil)
		}
		if string(head[4:]) == "IEND" {
			return nil
		}
	}
}

func cutOff(err error) error {
	if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		return damaged("the picture is cut off; send it again", err)
	}
	return fmt.Errorf("read the photo: %w", err)
}

// rawProfile is the keyword under which older programs stored Exif in a PNG.
const (
	rawProfileExif = "Raw profile type exif\x00"
	rawProfileAPP1 = "Raw profile type APP1\x00"
)

func (s *survey) pngRawProfile(body span) {
	if s.exif.n > 0 {
		return
	}
	head, err := s.src.upTo(body.at, int(min(body.n, int64(len(rawProfileExif)))))
	if err == nil && (string(head) == rawProfileExif || string(head) == rawProfileAPP1) {
		skip := int64(len(rawProfileExif))
		s.exif, s.exifHex = span{body.at + skip, body.n - skip}, true
	}
}

// inflate expands a zlib stream after its one-byte method, to at most limit bytes.
func inflate(b []byte, limit int) ([]byte, error) {
	if len(b) < 1 || b[0] != 0 {
		return nil, errors.New("unknown compression")
	}
	z, err := zlib.NewReader(bytes.NewReader(b[1:]))
	if err != nil {
		return nil, err
	}
	defer func() { _ = z.Close() }()
	out, err := io.ReadAll(io.LimitReader(z, int64(limit)+1))
	if err != nil {
		return nil, err
	}
	if len(out) > limit {
		return nil, errTooBig
	}
	return out, nil
}

// unhexProfile reads a raw profile: newline, name, newline, length, newline,
// then hex digits broken into lines.
func unhexProfile(b []byte, limit int) ([]byte, error) {
	text, err := inflate(b, 3*limit)
	if err != nil {
		return nil, err
	}
	lines := bytes.Split(bytes.TrimLeft(text, "\n"), []byte("\n"))
	if len(lines) < 3 {
		return nil, errShort
	}
	digits := bytes.TrimSpace(bytes.Join(lines[2:], nil))
	out := make([]byte, hex.DecodedLen(len(digits)))
	n, err := hex.Decode(out, digits)
	return out[:n], err
}

// unpackICCP takes the profile out of an iCCP chunk: name, zero, method, zlib.
func unpackICCP(b []byte, limit int) ([]byte, error) {
	name := bytes.IndexByte(b[:min(len(b), 80)], 0)
	if name < 0 {
		return nil, errShort
	}
	return inflate(b[name+1:], limit)
}
