package jpeg

import (
	"errors"
	"fmt"
	"io"
)

// ErrUnsupported marks a file that may well be sound but is coded in a way
// this package leaves to other decoders.
var ErrUnsupported = errors.New("unsupported JPEG")

// ErrCorrupt marks a file that is cut off or contradicts itself.
var ErrCorrupt = errors.New("corrupt JPEG")

// ErrTooLarge marks a picture of more pixels than the caller allows.
var ErrTooLarge = errors.New("JPEG with too many pixels")

func unsupported(what string) error { return fmt.Errorf("%w: %s", ErrUnsupported, what) }
func corrupt(what string) error     { return fmt.Errorf("%w: %s", ErrCorrupt, what) }

// ended says why no more bytes come: the end of the file is the file's fault,
// any other failure is the reader's.
func ended(err error) error {
	if err == nil || errors.Is(err, io.EOF) {
		return corrupt("the file ends early")
	}
	return fmt.Errorf("read the picture: %w", err)
}
