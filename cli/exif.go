package cli

import (
	"bufio"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"time"

	"github.com/spf13/cobra"

	"storeyrod/defects"
	"storeyrod/imaging"
)

// exifLine is what one photo says of itself. Lengths are in metres where the
// name ends in _m, angles in degrees; south, west and below the sea are
// negative; null is what the photo does not say.
type exifLine struct {
	File         string   `json:"file"`
	Type         *string  `json:"type"`
	Width        *int     `json:"width"` // pixels as stored, before orientation
	Height       *int     `json:"height"`
	Orientation  *int     `json:"orientation"` // Exif 1 to 8
	Make         *string  `json:"make"`
	Model        *string  `json:"model"`
	Software     *string  `json:"software"`
	TakenLocal   *string  `json:"taken_local"`
	UTCOffset    *string  `json:"utc_offset"`
	TakenUTC     *string  `json:"taken_utc"`
	SubSec       *string  `json:"subsec"`
	GPSUTC       *string  `json:"gps_utc"`
	Lat          *float64 `json:"lat"`
	Lon          *float64 `json:"lon"`
	AltitudeM    *float64 `json:"altitude_m"`
	DirectionDeg *float64 `json:"direction_deg"`
	DirectionRef *string  `json:"direction_ref"`
	HErrorM      *float64 `json:"h_error_m"`
	FocalMM      *float64 `json:"focal_mm"`
	Focal35MM    *float64 `json:"focal_35mm"`
	SHA256       string   `json:"sha256,omitempty"`
}

// exifFault stands in for a file that cannot be read.
type exifFault struct {
	File   string `json:"file"`
	Error  string `json:"error"`
	SHA256 string `json:"sha256,omitempty"`
}

func exifCommand() *cobra.Command {
	var hash bool
	cmd := &cobra.Command{
		Use:   "exif FILE…",
		Short: "Say what photos tell of themselves: place, direction, time, camera",
		Long: `Reads the Exif data of JPEG, PNG, WebP and HEIC files and writes one JSON object a
line. What a photo does not say is null. A file that cannot be read gives an
object with "error"; the others are still read, and the exit code is 1.`,
		Example: "  storeyrod exif --hash IMG_0412.jpg\n  storeyrod exif photos/*.jpg | jq 'select(.lat == null) | .file'",
		Args:    atLeastOne("file"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return readExifOf(cmd, args, hash)
		},
	}
	cmd.Flags().BoolVar(&hash, "hash", false, "add the SHA-256 of the file")
	return cmd
}

func readExifOf(cmd *cobra.Command, files []string, hash bool) error {
	out := bufio.NewWriter(cmd.OutOrStdout())
	enc := json.NewEncoder(out)
	enc.SetEscapeHTML(false)
	bad := 0
	for _, name := range files {
		if err := cmd.Context().Err(); err != nil {
			return err
		}
		line, notes, err := exifOf(name, hash)
		if err != nil {
			bad++
			line = exifFault{File: name, Error: describe(err), SHA256: hashOf(line)}
		}
		for _, note := range notes {
			fmt.Fprintf(cmd.ErrOrStderr(), "storeyrod: %s: %s\n", name, note)
		}
		if err := enc.Encode(line); err != nil {
			return fmt.Errorf("write: %w", err)
		}
	}
	if err := out.Flush(); err != nil {
		return fmt.Errorf("write: %w", err)
	}
	if bad > 0 {
		return &refusedError{fmt.Sprintf("%d of %d files could not be read", bad, len(files))}
	}
	return nil
}

func hashOf(line any) string {
	if l, ok := line.(exifLine); ok {
		return l.SHA256
	}
	return ""
}

// exifOf reads one file. The line is an exifLine also when it comes with an
// error, and then holds the hash alone.
func exifOf(name string, hash bool) (any, []string, error) {
	f, err := openPlain(name)
	if err != nil {
		return nil, nil, err
	}
	defer f.Close()
	line := exifLine{}
	if hash {
		sum := sha256.New()
		if _, err := io.Copy(sum, f); err != nil {
			return nil, nil, fileError(err)
		}
		line.SHA256 = hex.EncodeToString(sum.Sum(nil))
	}
	c, notes, err := imaging.ReadExif(f, imaging.DefaultLimits())
	if err != nil {
		return line, nil, err
	}
	line.File = name
	line.fill(c)
	return line, notes, nil
}

// openPlain opens a file that is one: to open a pipe may wait for ever.
func openPlain(name string) (*os.File, error) {
	info, err := os.Stat(name)
	if err != nil {
		return nil, fileError(err)
	}
	if !info.Mode().IsRegular() {
		return nil, defects.Refuse(defects.Invalid, "not_a_file", "is not a plain file")
	}
	f, err := os.Open(name)
	if err != nil {
		return nil, fileError(err)
	}
	return f, nil
}

func (l *exifLine) fill(c defects.Capture) {
	l.Type, l.Width, l.Height, l.Orientation = said(c.Type), said(c.Width), said(c.Height), said(c.Orientation)
	l.Make, l.Model, l.Software = said(c.Make), said(c.Model), said(c.Software)
	l.TakenLocal, l.UTCOffset, l.SubSec = said(c.TakenLocal), said(c.UTCOffset), said(c.SubSec)
	l.TakenUTC, l.GPSUTC = stamp(c.TakenUTC), stamp(c.GPSUTC)
	const angle, length = 1e9, 1e6 // a ninth place of a degree is a tenth of a millimetre
	l.Lat, l.Lon, l.AltitudeM = to(angle, c.Lat), to(angle, c.Lon), to(length, c.AltitudeM)
	l.DirectionDeg, l.DirectionRef, l.HErrorM = to(length, c.Direction), said(c.DirectionBy), to(length, c.HErrorM)
	l.FocalMM, l.Focal35MM = to(length, c.FocalMM), to(length, c.Focal35MM)
}

// to rounds to so many parts, so that thirds of a minute do not print as
// sixteen digits.
func to(parts float64, v *float64) *float64 {
	if v == nil {
		return nil
	}
	rounded := math.Round(*v*parts) / parts
	return &rounded
}

// said is nil for what a photo does not say.
func said[T comparable](v T) *T {
	var zero T
	if v == zero {
		return nil
	}
	return &v
}

func stamp(t *time.Time) *string {
	if t == nil {
		return nil
	}
	s := t.UTC().Format(time.RFC3339Nano)
	return &s
}

// fileError drops the path from the text, since every message names it anyway.
func fileError(err error) error {
	var path *os.PathError
	if errors.As(err, &path) {
		return fmt.Errorf("%s: %w", path.Op, path.Err)
	}
	return err
}
