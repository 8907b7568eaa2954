package cli

import (
	"context"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"path"
	"strconv"
	"time"

	"storeyrod/defects"
)

const (
	// uploadAbove is the size from which a photo is sent piece by piece, so that
	// a connection that drops costs one piece and not the photo.
	uploadAbove  = 4 << 20
	pieceSize    = 4 << 20
	uploadTries  = 8 // in a row without any byte getting through
	uploadBegins = 3 // of one photo, when the server forgets what it had
	pieceType    = "application/offset+octet-stream"
)

// upload is one photo on its way to a server by tus 1.0 (tus.io). Nothing of it
// is remembered on this side: the server lists what is unfinished, and the
// photo's hash, sent along as its fingerprint, tells which is meant.
type upload struct {
	c      *client
	site   string // path of the site
	name   string
	body   io.ReadSeeker
	size   int64
	print  string
	at     string // path of the upload; "" = to be found or begun
	offset int64
	done   *photoAnswer
	begun  int
}

// upload sends a photo piece by piece, going on where an earlier run or a
// dropped connection left off.
func (c *client) upload(ctx context.Context, siteID, name string, body io.ReadSeeker, size int64) (_ photoAnswer, err error) {
	u := &upload{c: c, site: "/sites/" + url.PathEscape(siteID), name: name, body: body, size: size}
	if u.print, err = fingerprint(body); err != nil {
		return photoAnswer{}, err
	}
	for try := 0; ; {
		before := u.offset
		err := u.step(ctx)
		switch {
		case u.done != nil:
			return *u.done, nil
		case err == nil:
			try = 0
			continue
		case ctx.Err() != nil || !mayPass(err):
			return photoAnswer{}, err
		case u.offset > before:
			try = 0
		}
		if try++; try == uploadTries {
			return photoAnswer{}, err
		}
		if err := pause(ctx, min(clientWaits<<(try-1), clientPatient)); err != nil {
			return photoAnswer{}, err
		}
		_ = u.ask(ctx) // the next step meets the same fault and tells it
	}
}

func fingerprint(body io.ReadSeeker) (string, error) {
	h := sha256.New()
	if _, err := body.Seek(0, io.SeekStart); err != nil {
		return "", fmt.Errorf("read: %w", err)
	}
	if _, err := io.Copy(h, body); err != nil {
		return "", fmt.Errorf("read: %w", err)
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}

// mayPass tells faults after which the same piece may get through: of the
// connection, of a busy server, of a piece that came damaged or twice.
func mayPass(err error) bool {
	var refused *defects.Error
	if !errors.As(err, &refused) {
		return true
	}
	switch refused.Kind {
	case defects.Unavailable, defects.Locked, defects.Conflict, defects.Mismatch:
		return true
	}
	return false
}

func pause(ctx context.Context, wait time.Duration) error {
	select {
	case <-ctx.Done():
		return ctx.Err()
	case <-time.After(wait):
		return nil
	}
}

// step does the next thing: find, begin, or send a piece.
func (u *upload) step(ctx context.Context) error {
	if u.at == "" {
		if err := u.find(ctx); err != nil || u.at != "" {
			return err
		}
		return u.begin(ctx)
	}
	if u.offset == u.size {
		return u.ask(ctx)
	}
	piece := make([]byte, min(pieceSize, u.size-u.offset))
	if _, err := u.body.Seek(u.offset, io.SeekStart); err != nil {
		return fmt.Errorf("read: %w", err)
	}
	if _, err := io.ReadFull(u.body, piece); err != nil {
		return defects.Refuse(defects.Invalid, "file_changed", "the file changed while it was sent")
	}
	sum := sha256.Sum256(piece)
	return u.send(ctx, http.MethodPatch, u.at, piece, map[string]string{
		"Upload-Offset":   strconv.FormatInt(u.offset, 10),
		"Upload-Checksum": "sha256 " + base64.StdEncoding.EncodeToString(sum[:]),
	})
}

// find looks for what an earlier run has begun.
func (u *upload) find(ctx context.Context) error {
	if u.begun > 0 {
		return nil // it was gone a moment ago
	}
	var answer struct {
		Items []struct {
			ID       string            `json:"id"`
			Offset   int64             `json:"offset"`
			Length   int64             `json:"length"`
			Metadata map[string]string `json:"metadata"`
		} `json:"items"`
	}
	if err := u.c.get(ctx, u.site+"/uploads", &answer); err != nil {
		return err
	}
	for _, i := range answer.Items {
		if i.Length == u.size && i.Metadata["fingerprint"] == u.print {
			u.at, u.offset = u.site+"/uploads/"+url.PathEscape(i.ID), i.Offset
			return nil
		}
	}
	return nil
}

func (u *upload) begin(ctx context.Context) error {
	if u.begun++; u.begun > uploadBegins {
		return defects.Refuse(defects.Invalid, "upload_lost", "the server lost what it had of this photo, several times")
	}
	coded := base64.StdEncoding.EncodeToString
	return u.send(ctx, http.MethodPost, u.site+"/uploads", nil, map[string]string{
		"Upload-Length":   strconv.FormatInt(u.size, 10),
		"Upload-Metadata": "filename " + coded([]byte(u.name)) + ",fingerprint " + coded([]byte(u.print)),
	})
}

// ask finds out how far the server is.
func (u *upload) ask(ctx context.Context) error {
	if u.at == "" {
		return nil
	}
	return u.send(ctx, http.MethodHead, u.at, nil, nil)
}

// send makes one request of the protocol and reads from its answer how far the
// upload is. One that is gone is begun anew.
func (u *upload) send(ctx context.Context, method, to string, piece []byte, header map[string]string) error {
	res, err := u.c.tus(ctx, method, to, piece, header)
	if err != nil {
		return err
	}
	defer res.Body.Close()
	if u.at != "" && (res.StatusCode == http.StatusNotFound || res.StatusCode == http.StatusGone) {
		u.at, u.offset, u.begun = "", 0, max(u.begun, 1)
		return nil
	}
	if res.StatusCode/100 != 2 {
		return problem(res)
	}
	if method == http.MethodPost {
		u.at = u.site + "/uploads/" + path.Base(res.Header.Get("Location"))
	}
	if u.offset, err = strconv.ParseInt(res.Header.Get("Upload-Offset"), 10, 64); err != nil {
		return fmt.Errorf("server: no offset of an upload in its answer")
	}
	if word := res.Header.Get("Storeyrod-Answer"); word != "" {
		u.done = &photoAnswer{path.Base(res.Header.Get("Storeyrod-Photo")), word == "known"}
	}
	return nil
}
