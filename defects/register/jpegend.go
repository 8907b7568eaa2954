package register

import (
	"bufio"
	"errors"
	"io"

	"storeyrod/defects"
	"storeyrod/imaging"
)

// JPEG markers that stand alone or matter here (ITU-T T.81 table B.1).
const (
	jpegTEM  = 0x01
	jpegRST0 = 0xD0
	jpegSOI  = 0xD8
	jpegEOI  = 0xD9
)

// checkWhole refuses a JPEG that was cut off on its way, the usual fate of an
// upload over a weak connection: its header still reads well, so nothing else
// would tell before the view copies are made, long after the answer. The other
// types state their length, which imaging has checked. No pixel is decoded.
func checkWhole(file io.ReadSeeker, kind string) error {
	if kind != string(imaging.JPEG) && kind != string(imaging.PNG) {
		return nil
	}
	if _, err := file.Seek(0, io.SeekStart); err != nil {
		return err
	}
	if kind == string(imaging.PNG) {
		return imaging.CheckPNG(file)
	}
	whole, err := jpegEnds(bufio.NewReaderSize(file, 64<<10))
	if err != nil {
		return err
	}
	if !whole {
		return defects.RefuseField(defects.Invalid, "file", "damaged_file",
			"the file is damaged or incomplete: the picture is cut off; send it again")
	}
	return nil
}

// jpegEnds reports whether a JPEG runs to its end marker. It steps over
// segments by their length, so that the end of a thumbnail inside one is not
// taken for the picture's. What follows the end, such as a short film, is not
// looked at.
func jpegEnds(r *bufio.Reader) (bool, error) {
	for {
		marker, err := nextJPEGMarker(r)
		if err == nil && marker == jpegEOI {
			return true, nil
		}
		alone := marker == 0 || marker == jpegTEM || (marker >= jpegRST0 && marker <= jpegSOI)
		if err == nil && !alone {
			err = skipSegment(r)
		}
		if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
			return false, nil
		}
		if err != nil {
			return false, err
		}
	}
}

// nextJPEGMarker reads up to the byte after the next run of 0xFF; 0 is a
// stuffed 0xFF of the picture's data.
func nextJPEGMarker(r *bufio.Reader) (byte, error) {
	for {
		_, err := r.ReadSlice(0xFF)
		if errors.Is(err, bufio.ErrBufferFull) {
			continue
		}
		if err != nil {
			return 0, err
		}
		for {
			b, err := r.ReadByte()
			if err != nil || b != 0xFF {
				return b, err
			}
		}
	}
}

func skipSegment(r *bufio.Reader) error {
	var size [2]byte
	if _, err := io.ReadFull(r, size[:]); err != nil {
		return err
	}
	_, err := r.Discard(max((int(size[0])<<8|int(size[1]))-2, 0))
	return err
}
