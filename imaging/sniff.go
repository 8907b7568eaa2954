package imaging

import (
	"bytes"
	"fmt"
	"strings"
	"unicode/utf8"

	"storeyrod/defects"
)

// Type is a file type, recognised by content and never by name.
type Type string

// The types that are taken.
const (
	JPEG Type = "jpeg"
	PNG  Type = "png"
	WebP Type = "webp"
	HEIC Type = "heic" // HEIF container with HEVC pictures, as phones write it
	HEIF Type = "heif" // HEIF container of another or unstated coding
)

// SniffLen is the number of leading bytes Sniff needs to be sure. Fewer are
// allowed; they may then not be enough to name a refused type.
const SniffLen = 512

// Sniff tells the type from the first bytes of a file. A type that is not
// taken gives UnsupportedType with the code "unsupported_type" and the type
// found in the text; no bytes at all give Invalid with "empty_file".
func Sniff(head []byte) (Type, error) {
	if len(head) == 0 {
		return "", defects.RefuseField(defects.Invalid, "file", "empty_file", "the file is empty")
	}
	switch {
	case bytes.HasPrefix(head, []byte{0xFF, 0xD8, 0xFF}):
		return JPEG, nil
	case bytes.HasPrefix(head, []byte(pngSignature)):
		return PNG, nil
	case isRIFF(head, "WEBP"):
		return WebP, nil
	}
	if t, ok := sniffHEIF(head); ok {
		return t, nil
	}
	found := nameRefused(head)
	return "", defects.RefuseField(defects.UnsupportedType, "file", "unsupported_type",
		fmt.Sprintf("photos are taken as JPEG, PNG, WebP or HEIC; this file is of type %s", found))
}

func isRIFF(head []byte, form string) bool {
	return len(head) >= 12 && string(head[:4]) == "RIFF" && string(head[8:12]) == form
}

// brands lists the major and compatible brands of an ISO base media file
// (ISO/IEC 14496-12 §4.3); nil when the bytes are none.
func brands(head []byte) []string {
	if len(head) < 12 || string(head[4:8]) != "ftyp" {
		return nil
	}
	end := min(int64(be32(head)), int64(len(head)))
	list := []string{string(head[8:12])}
	for at := int64(16); at+4 <= end; at += 4 {
		list = append(list, string(head[at:at+4]))
	}
	return list
}

// sniffHEIF goes by the major brand; the generic "mif1" looks on among the
// compatible ones, because an AVIF file may carry it too.
func sniffHEIF(head []byte) (Type, bool) {
	list := brands(head)
	if len(list) == 0 {
		return "", false
	}
	switch list[0] {
	case "heic", "heix", "heim", "heis", "hevc", "hevx", "hevm", "hevs":
		return HEIC, true
	case "mif1", "msf1", "mif2":
		for _, brand := range list[1:] {
			switch brand {
			case "heic", "heix", "heim", "heis":
				return HEIC, true
			case "avif", "avis":
				return "", false
			}
		}
		return HEIF, true
	}
	return "", false
}

// signature pairs leading bytes with the name told to the person.
type signature struct{ head, name string }

// signatures lists what people send instead of photos.
func signatures() []signature {
	return []signature{
		{"%PDF-", "pdf"},
		{"GIF87a", "gif"},
		{"GIF89a", "gif"},
		{"II*\x00", "tiff"},
		{"MM\x00*", "tiff"},
		{"II+\x00", "tiff"},
		{"MM\x00+", "tiff"},
		{"IIU\x00", "tiff"},
		{"IIRO", "tiff"},
		{"BM", "bmp"},
		{"PK\x03\x04", "zip"},
		{"PK\x05\x06", "zip"},
		{"Rar!\x1a\x07", "rar"},
		{"7z\xbc\xaf\x27\x1c", "7z"},
		{"\x1f\x8b", "gzip"},
		{"\x00\x00\x01\x00", "ico"},
		{"8BPS", "psd"},
		{"\x00\x00\x00\x0cJXL \r\n\x87\n", "jxl"},
		{"\xff\x0a", "jxl"},
		{"\x00\x00\x00\x0cjP  \r\n\x87\n", "jpeg 2000"},
		{"\xff\x4f\xff\x51", "jpeg 2000"},
		{"\x1aE\xdf\xa3", "matroska video"},
		{"OggS", "ogg"},
		{"ID3", "mp3"},
		{"\x7fELF", "program"},
		{"MZ", "program"},
		{"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "office document"},
		{"{\\rtf", "rtf"},
	}
}

// nameRefused names a type that is not taken, "unknown" when it cannot.
func nameRefused(head []byte) string {
	if list := brands(head); len(list) > 0 {
		return nameMedia(list)
	}
	for _, s := range signatures() {
		if bytes.HasPrefix(head, []byte(s.head)) {
			return s.name
		}
	}
	switch {
	case isRIFF(head, "AVI "):
		return "avi"
	case isRIFF(head, "WAVE"):
		return "wav"
	case len(head) >= 12 && string(head[4:8]) == "moov", len(head) >= 12 && string(head[4:8]) == "mdat":
		return "mov"
	}
	return nameText(head)
}

func nameMedia(list []string) string {
	for _, brand := range list {
		switch brand {
		case "avif", "avis":
			return "avif"
		case "qt  ":
			return "mov"
		case "crx ":
			return "cr3"
		}
	}
	return "mp4"
}

// nameText tells kinds of text apart from unknown binary data. A character
// cut in two at the end of head is forgiven.
func nameText(head []byte) string {
	trimmed := bytes.TrimPrefix(head, []byte("\xef\xbb\xbf"))
	whole := trimmed
	for cut := 0; cut < utf8.UTFMax-1 && !utf8.Valid(whole) && len(whole) > 0; cut++ {
		whole = whole[:len(whole)-1]
	}
	if len(whole) == 0 || !utf8.Valid(whole) || bytes.IndexFunc(whole, isControl) >= 0 {
		return "unknown"
	}
	low := strings.ToLower(strings.TrimSpace(string(whole)))
	switch {
	case strings.HasPrefix(low, "<!doctype html"), strings.HasPrefix(low, "<html"):
		return "html"
	case strings.Contains(low, "<svg"):
		return "svg"
	case strings.HasPrefix(low, "<?xml"):
		return "xml"
	case strings.HasPrefix(low, "{"), strings.HasPrefix(low, "["):
		return "json or text"
	}
	return "text"
}

func isControl(r rune) bool {
	return r < ' ' && r != '\n' && r != '\r' && r != '\t' && r != '\f'
}
