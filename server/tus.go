package server

import (
	"crypto/sha1" //nolint:gosec // the protocol asks every server for it; it guards against accidents here
	"crypto/sha256"
	"encoding/base64"
	"hash"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"storeyrod/defects"
)

// What is said here of the tus protocol is from its specification, version
// 1.0.x (tus.io/protocols/resumable-upload).
const (
	tusVersion    = "1.0.0"
	tusExtensions = "creation,creation-with-upload,expiration,checksum,termination"
	tusChecksums  = "sha256,sha1"
	tusBody       = "application/offset+octet-stream"
	// maxMetadata bounds the text of a photo's facts, and metadataKeys their number.
	maxMetadata  = 8 << 10
	metadataKeys = 40
)

// isUpload tells the routes that speak tus.
func isUpload(path string) bool {
	return strings.HasSuffix(path, "/uploads") || strings.HasSuffix(path, "/uploads/:upload") || strings.HasSuffix(path, "/uploads/{upload}")
}

// overrideMethod lets a client behind a proxy that knows only GET and POST say
// what it means, as the protocol asks.
func overrideMethod(r *http.Request) {
	method := r.Header.Get("X-HTTP-Method-Override")
	if r.Method == http.MethodPost && (method == http.MethodPatch || method == http.MethodDelete) && strings.Contains(r.URL.Path, "/uploads/") {
		r.Method = method
	}
}

// badHeader refuses what does not follow the protocol, with the status it names.
func badHeader(name, text string) error {
	return &Problem{
		Type: "about:blank", Title: http.StatusText(http.StatusBadRequest), Status: http.StatusBadRequest,
		Code: "bad_header", Field: name, Detail: name + ": " + text,
	}
}

// tusHeaders are on every answer of the protocol.
func (s *Server) tusHeaders(c *gin.Context) {
	c.Header("Tus-Resumable", tusVersion)
	c.Header("Tus-Version", tusVersion)
	c.Header("Tus-Max-Size", strconv.FormatInt(s.reg.Limits.MaxBytes, 10))
}

// needTus refuses clients that speak another version.
func needTus(c *gin.Context) error {
	if c.GetHeader("Tus-Resumable") == tusVersion {
		return nil
	}
	return &Problem{
		Type: "about:blank", Title: http.StatusText(http.StatusPreconditionFailed), Status: http.StatusPreconditionFailed,
		Code: "tus_version", Field: "Tus-Resumable", Instance: c.Request.URL.Path,
		Detail: "send Tus-Resumable: " + tusVersion + ", the version spoken here",
	}
}

// byteCount reads a header that counts bytes.
func byteCount(name, text string) (int64, error) {
	n, err := strconv.ParseInt(text, 10, 64)
	if err != nil || n < 0 || strings.HasPrefix(text, "+") {
		return 0, badHeader(name, "must be a number of bytes")
	}
	return n, nil
}

// parseMetadata reads an Upload-Metadata header: pairs of a key and a value in
// Base64, with a space between, separated by commas.
func parseMetadata(text string) (map[string]string, error) {
	const name = "Upload-Metadata"
	out := map[string]string{}
	if len(text) > maxMetadata {
		return nil, badHeader(name, "is longer than is taken")
	}
	if strings.TrimSpace(text) == "" {
		return out, nil
	}
	for pair := range strings.SplitSeq(text, ",") {
		key, coded, _ := strings.Cut(strings.TrimSpace(pair), " ")
		if key == "" || strings.ContainsFunc(key, func(r rune) bool { return r <= ' ' || r > '~' }) {
			return nil, badHeader(name, "a key is empty or not of plain letters")
		}
		if _, twice := out[key]; twice {
			return nil, badHeader(name, "a key stands there twice")
		}
		value, err := base64.StdEncoding.DecodeString(coded)
		if err != nil {
			return nil, badHeader(name, "a value is no Base64")
		}
		out[key] = string(value)
		if len(out) > metadataKeys {
			return nil, badHeader(name, "more keys than are taken")
		}
	}
	return out, nil
}

// photoMetadata gives metadata the names a photo's facts have elsewhere. The
// names that common clients send of themselves are known; what says nothing of
// the photo is left out.
func photoMetadata(m map[string]string) (url.Values, error) {
	v := url.Values{}
	for key, value := range m {
		switch key {
		case "filetype", "type", "fingerprint":
			continue
		case "filename":
			key = "name"
		}
		if v.Has(key) && v.Get(key) != value {
			return nil, defects.RefuseField(defects.Invalid, "name", "named_twice", "name and filename say different things")
		}
		v.Set(key, value)
	}
	return v, nil
}

// parseChecksum reads an Upload-Checksum header: the name of an algorithm and
// the sum in Base64. Without one the answer is nil.
func parseChecksum(text string) (hash.Hash, []byte, error) {
	const name = "Upload-Checksum"
	if text == "" {
		return nil, nil, nil
	}
	algorithm, coded, _ := strings.Cut(text, " ")
	var h hash.Hash
	switch algorithm {
	case "sha256":
		h = sha256.New()
	case "sha1":
		h = sha1.New() //nolint:gosec // see the import
	default:
		return nil, nil, badHeader(name, "the algorithms are "+tusChecksums)
	}
	sum, err := base64.StdEncoding.DecodeString(coded)
	if err != nil || len(sum) != h.Size() {
		return nil, nil, badHeader(name, "is no "+algorithm+" in Base64")
	}
	return h, sum, nil
}
