package imaging

import (
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"storeyrod/defects"
)

// fields turns tags into a capture and collects the notes.
type fields struct {
	tags  tags
	c     defects.Capture
	notes []string
}

func (f *fields) note(code string) {
	if !slices.Contains(f.notes, code) {
		f.notes = append(f.notes, code)
	}
}

func (f *fields) fill() {
	f.c.Make = f.text(dirMain, "Make")
	f.c.Model = f.text(dirMain, "Model")
	f.c.Software = f.text(dirMain, "Software")
	f.c.Lens = f.text(dirExif, "LensModel")
	f.fillOrientation()
	f.c.FocalMM = positive(f.number(dirExif, "FocalLength"))
	// Exif 2.32: 0 means the equivalent focal length is unknown.
	f.c.Focal35MM = positive(f.number(dirExif, "FocalLengthIn35mmFormat"))
	f.c.TiltDeg = f.tilt()
	f.fillTime()
	f.fillPlace()
	f.fillDirection()
	f.fillGPSTime()
}

func (f *fields) fillOrientation() {
	if _, there := f.tags.values[tagKey{dirMain, "Orientation"}]; !there {
		return
	}
	v := f.number(dirMain, "Orientation")
	if v == nil || *v < 1 || *v > 8 {
		f.note(NoteOrientationBad)
		return
	}
	f.c.Orientation = int(*v)
}

// tilt reads CameraElevationAngle: degrees above the horizon, −180 ≤ t < 180, where
// a denominator of FFFFFFFF hex means unknown.
func (f *fields) tilt() *float64 {
	v, ok := f.tags.raw.find(f.tags.raw.dir(tagExifDir), tagElevation)
	if !ok || v.kind != typeSRational || v.count != 1 || f.tags.raw.order.Uint32(v.data[4:]) == math.MaxUint32 {
		return nil
	}
	list, ok := f.tags.raw.rationals(v)
	if !ok || !(list[0] >= -180 && list[0] < 180) {
		return nil
	}
	return &list[0]
}

// maxText cuts a text that no camera writes.
const maxText = 256

func (f *fields) text(dir, name string) string {
	s, _ := f.tags.values[tagKey{dir, name}].(string)
	if zero := strings.IndexByte(s, 0); zero >= 0 {
		s = s[:zero]
	}
	s = strings.TrimSpace(strings.ToValidUTF8(s, "\uFFFD"))
	if runes := []rune(s); len(runes) > maxText {
		s = string(runes[:maxText])
	}
	return s
}

// number gives a finite number, or nil.
func (f *fields) number(dir, name string) *float64 {
	v, ok := toNumber(f.tags.values[tagKey{dir, name}])
	if !ok || math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return &v
}

func toNumber(v any) (float64, bool) {
	switch n := v.(type) {
	case interface{ Float64() float64 }:
		return n.Float64(), true
	case float64:
		return n, true
	case float32:
		return float64(n), true
	case int:
		return float64(n), true
	case uint8:
		return float64(n), true
	case uint16:
		return float64(n), true
	case uint32:
		return float64(n), true
	case int32:
		return float64(n), true
	case []any:
		if len(n) > 0 {
			if _, nested := n[0].([]any); !nested {
				return toNumber(n[0])
			}
		}
	}
	return 0, false
}

func positive(v *float64) *float64 {
	if v == nil || *v <= 0 {
		return nil
	}
	return v
}

// fillTime reads the moment of capture. The time of the last change to the
// file (DateTime) is no stand-in for it and is not used.
func (f *fields) fillTime() {
	raw := f.text(dirExif, "DateTimeOriginal")
	local, ok := parseLocal(raw)
	if !ok {
		if !blank(raw) {
			f.note(NoteTimeUnreadable)
		}
		return
	}
	f.c.TakenLocal = local.Format(localLayout)
	f.c.SubSec = f.subSec()
	f.c.UTCOffset = f.offset()
	if f.c.UTCOffset != "" {
		if seconds, ok := offsetSeconds(f.c.UTCOffset); ok {
			utc := local.Add(-time.Duration(seconds) * time.Second)
			f.c.TakenUTC = &utc
		}
	}
}

const localLayout = "2006-01-02T15:04:05"

// blank tells the ways a camera writes "unknown": spaces and colons (Exif
// 2.32), or zeros.
func blank(s string) bool { return strings.Trim(s, " :0-/T.\x00") == "" }

// parseLocal reads "2026:07:01 09:15:30" and the separators other programs
// use. A fraction or zone behind the seconds is not the tag's business.
func parseLocal(s string) (time.Time, bool) {
	s = strings.TrimSpace(s)
	if len(s) < 19 || blank(s) {
		return time.Time{}, false
	}
	if rest := s[19:]; rest != "" && !strings.ContainsAny(rest[:1], ".+-Z ") {
		return time.Time{}, false
	}
	b := []byte(s[:19])
	for i, sep := range map[int]byte{4: '-', 7: '-', 10: 'T'} {
		if !strings.ContainsRune(":-/. T", rune(b[i])) {
			return time.Time{}, false
		}
		b[i] = sep
	}
	t, err := time.Parse(localLayout, string(b))
	return t, err == nil && t.Year() > 0
}

// subSec gives the digits as stored, without padding.
func (f *fields) subSec() string {
	v, ok := f.tags.raw.find(f.tags.raw.dir(tagExifDir), tagSubSecOrig)
	if !ok || v.kind != typeASCII {
		return ""
	}
	s := strings.Trim(string(v.data), " \x00")
	if len(s) > 9 || strings.Trim(s, "0123456789") != "" {
		return ""
	}
	return s
}

// offset reads OffsetTimeOriginal, "±HH:MM"; blanks mean unknown.
func (f *fields) offset() string {
	s := f.text(dirExif, "OffsetTimeOriginal")
	if strings.Trim(s, " :") == "" {
		return ""
	}
	if s == "Z" || s == "z" {
		return "+00:00"
	}
	if len(s) == 5 && s[0] != ':' && !strings.Contains(s, ":") { // +0100
		s = s[:3] + ":" + s[3:]
	}
	if len(s) == 5 && s[2] == ':' { // +1:00
		s = s[:1] + "0" + s[1:]
	}
	if _, ok := offsetSeconds(s); !ok {
		f.note(NoteOffsetUnread)
		return ""
	}
	return s
}

// offsetSeconds reads "±HH:MM"; offsets in use run from −12:00 to +14:00.
func offsetSeconds(s string) (int, bool) {
	if len(s) != 6 || (s[0] != '+' && s[0] != '-') || s[3] != ':' {
		return 0, false
	}
	h, errH := strconv.ParseUint(s[1:3], 10, 8)
	m, errM := strconv.ParseUint(s[4:], 10, 8)
	if errH != nil || errM != nil || m > 59 || h*60+m > 15*60 {
		return 0, false
	}
	total := int(h*3600 + m*60)
	if s[0] == '-' {
		total = -total
	}
	return total, true
}
