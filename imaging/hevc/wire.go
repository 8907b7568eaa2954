package hevc

import (
	"bufio"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"image"
	"io"
)

// maxFile bounds what one picture's coded data may have.
const maxFile = 32 << 20

// Serve decodes pictures for another process until in ends. A request is a
// length of four bytes and the file; an answer is five numbers of four bytes
// (state, width, height, colour space, chroma as the module has them) and, in
// state 1, the planes.
func Serve(ctx context.Context, box *Sandbox, in io.Reader, out io.Writer) error {
	r, w := bufio.NewReader(in), bufio.NewWriterSize(out, 1<<16)
	var file []byte
	for {
		var n uint32
		switch err := binary.Read(r, binary.LittleEndian, &n); {
		case errors.Is(err, io.EOF):
			return nil
		case err != nil:
			return fmt.Errorf("read a request: %w", err)
		case n > maxFile:
			return fmt.Errorf("a request of %d bytes is none", n)
		}
		if int(n) > cap(file) {
			file = make([]byte, n)
		}
		file = file[:n]
		if _, err := io.ReadFull(r, file); err != nil {
			return fmt.Errorf("read a picture: %w", err)
		}
		img, err := box.Picture(ctx, file)
		if err != nil && !errors.Is(err, ErrPicture) {
			return err
		}
		if err := answer(w, img); err != nil {
			return fmt.Errorf("answer: %w", err)
		}
	}
}

func answer(w *bufio.Writer, img image.Image) error {
	head, planes := [answers]uint32{}, [][]byte(nil)
	switch m := img.(type) {
	case *image.Gray:
		head = [answers]uint32{1, uint32(m.Rect.Dx()), uint32(m.Rect.Dy()), colourGrey, 0}
		planes = [][]byte{m.Pix}
	case *image.YCbCr:
		chroma := map[image.YCbCrSubsampleRatio]uint32{
			image.YCbCrSubsampleRatio420: chroma420, image.YCbCrSubsampleRatio422: chroma422, image.YCbCrSubsampleRatio444: chroma444,
		}
		head = [answers]uint32{1, uint32(m.Rect.Dx()), uint32(m.Rect.Dy()), colourYCbCr, chroma[m.SubsampleRatio]}
		planes = [][]byte{m.Y, m.Cb, m.Cr}
	}
	// Errors of a bufio.Writer stay until Flush.
	_ = binary.Write(w, binary.LittleEndian, head)
	for _, p := range planes {
		_, _ = w.Write(p)
	}
	return w.Flush()
}

// Client has pictures decoded by the process at the other end of two streams.
type Client struct {
	in  io.Reader
	out io.Writer
}

// NewClient talks to a Serve that reads out and writes in.
func NewClient(in io.Reader, out io.Writer) *Client {
	return &Client{in: bufio.NewReaderSize(in, 1<<16), out: out}
}

// Picture is Sandbox.Picture in the other process. An error other than
// ErrPicture means that the process is gone or talks nonsense.
func (c *Client) Picture(_ context.Context, file []byte) (image.Image, error) {
	if len(file) > maxFile {
		return nil, ErrPicture
	}
	if _, err := c.out.Write(binary.LittleEndian.AppendUint32(nil, uint32(len(file)))); err != nil {
		return nil, fmt.Errorf("ask for a picture: %w", err)
	}
	if _, err := c.out.Write(file); err != nil {
		return nil, fmt.Errorf("ask for a picture: %w", err)
	}
	var head [answers]uint32
	if err := binary.Read(c.in, binary.LittleEndian, &head); err != nil {
		return nil, fmt.Errorf("wait for a picture: %w", err)
	}
	if head[0] != 1 {
		return nil, ErrPicture
	}
	l, err := layoutOf(head[1], head[2], head[3], head[4])
	if err != nil {
		return nil, err
	}
	pix := make([]byte, l.size())
	if _, err := io.ReadFull(c.in, pix); err != nil {
		return nil, fmt.Errorf("read a picture: %w", err)
	}
	return l.image(pix), nil
}
