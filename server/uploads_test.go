package server_test

import (
	"bufio"
	"bytes"
	"crypto/sha1"
	"crypto/sha256"
	"encoding/base64"
	"fmt"
	"io"
	"mime/multipart"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/server"
)

const pieceType = "application/offset+octet-stream"

// begin begins an upload and answers its address.
func (c *client) begin(length int, metadata string) string {
	c.w.t.Helper()
	got := c.tus().with("Upload-Length", strconv.Itoa(length)).with("Upload-Metadata", metadata).send("POST", c.w.path("/uploads"), "", nil)
	return got.want(http.StatusCreated).Header.Get("Location")
}

func (c *client) tus() *client { return c.with("Tus-Resumable", "1.0.0") }

// piece sends bytes from an offset on.
func (c *client) piece(at string, offset int, data []byte) answer {
	c.w.t.Helper()
	return c.tus().with("Upload-Offset", strconv.Itoa(offset)).send("PATCH", at, pieceType, data)
}

// offset asks how far an upload is.
func (c *client) offset(at string) string {
	c.w.t.Helper()
	return c.tus().send("HEAD", at, "", nil).want(http.StatusOK).Header.Get("Upload-Offset")
}

// pairs makes an Upload-Metadata header.
func pairs(named ...string) string {
	var out []string
	for i := 0; i < len(named); i += 2 {
		out = append(out, named[i]+" "+base64.StdEncoding.EncodeToString([]byte(named[i+1])))
	}
	return strings.Join(out, ",")
}

func (w *world) stored() (photos, reserved float64) {
	w.t.Helper()
	got := w.as(defects.Auditor).get(w.path("/storage")).want(http.StatusOK).obj()
	return got["photo_bytes"].(float64), got["reserved_bytes"].(float64)
}

func TestAPhotoThatComesInPiecesIsThePhotoItIs(t *testing.T) {
	t.Parallel()
	onBoth(t, func(w *world) {
		clerk, north := w.as(defects.Clerk), w.walls()["North"]
		data := shot(t, 1, nil)
		said := pairs("filename", "IMG 1.jpg", "filetype", "image/jpeg", "elevation", north, "bay", "2", "note", "Ä, b", "scale_seen", "true")
		at := clerk.begin(len(data), said)
		_, reserved := w.stored()
		require.EqualValues(t, len(data), reserved)
		half := len(data) / 2
		got := clerk.piece(at, 0, data[:half]).want(http.StatusNoContent)
		require.Equal(t, strconv.Itoa(half), got.Header.Get("Upload-Offset"))
		require.Equal(t, "1.0.0", got.Header.Get("Tus-Resumable"))
		expires, err := http.ParseTime(got.Header.Get("Upload-Expires"))
		require.NoError(t, err)
		require.Equal(t, w.clock.Now().Add(register.UploadLife), expires)
		head := clerk.tus().send("HEAD", at, "", nil).want(http.StatusOK)
		require.Equal(t, said, head.Header.Get("Upload-Metadata"))
		require.Equal(t, strconv.Itoa(len(data)), head.Header.Get("Upload-Length"))
		require.Equal(t, strconv.Itoa(half), head.Header.Get("Upload-Offset"))
		require.Equal(t, "no-store", head.Header.Get("Cache-Control"))
		mine := clerk.get(w.path("/uploads")).want(http.StatusOK).list("items")
		require.Len(t, mine, 1)
		require.Equal(t, "IMG 1.jpg", mine[0]["metadata"].(m)["filename"])

		done := clerk.piece(at, half, data[half:]).want(http.StatusNoContent)
		require.Equal(t, "taken", done.Header.Get("Storeyrod-Answer"))
		photo := clerk.get(done.Header.Get("Storeyrod-Photo")).want(http.StatusOK)
		require.Equal(t, "IMG 1.jpg", photo.str("file_name"))
		require.Equal(t, "Ä, b", photo.str("note"))
		require.Equal(t, north, photo.str("place.elevation_id"))
		require.Equal(t, data, clerk.get(done.Header.Get("Storeyrod-Photo")+"/original").want(http.StatusOK).Body)
		require.Equal(t, photo.str("id"), clerk.photo(data, nil).want(http.StatusOK).str("id"), "the same bytes by any way in")

		require.Equal(t, strconv.Itoa(len(data)), clerk.offset(at), "a lost answer can be asked for again")
		clerk.piece(at, len(data), nil).want(http.StatusNoContent)
		require.Equal(t, photo.str("id"), clerk.get(at).want(http.StatusOK).str("photo_id"))
		photos, reserved := w.stored()
		require.EqualValues(t, len(data), photos)
		require.Zero(t, reserved)

		again := clerk.tus().with("Upload-Length", strconv.Itoa(len(data))).send("POST", w.path("/uploads"), pieceType, data).want(http.StatusCreated)
		require.Equal(t, "known", again.Header.Get("Storeyrod-Answer"))
		require.Equal(t, done.Header.Get("Storeyrod-Photo"), again.Header.Get("Storeyrod-Photo"))
		photos, reserved = w.stored()
		require.EqualValues(t, len(data), photos)
		require.Zero(t, reserved)
		require.Empty(t, w.parts())
	})
}

// parts are the files of unfinished uploads.
func (w *world) parts() (names []string) {
	w.t.Helper()
	files, err := filepath.Glob(filepath.Join(w.dir, "originals", "incoming", "parts", "*"))
	require.NoError(w.t, err)
	return files
}

func TestTheProtocolsRefusalsAreItsOwn(t *testing.T) {
	t.Parallel()
	onBoth(t, func(w *world) {
		clerk := w.as(defects.Clerk)
		data := shot(t, 2, nil)
		at := clerk.begin(len(data), "")
		clerk.piece(at, 0, data[:100]).want(http.StatusNoContent)
		clerk.piece(at, 50, data[50:]).refused(http.StatusConflict, "wrong_offset")
		for name, sum := range map[string][]byte{"sha256": sum256(data), "sha1": sum1(data)} {
			bad := clerk.tus().with("Upload-Offset", "100").with("Upload-Checksum", name+" "+base64.StdEncoding.EncodeToString(sum))
			p := bad.send("PATCH", at, pieceType, data[100:]).refused(460, "checksum_mismatch")
			require.Equal(t, "Checksum Mismatch", p.Title)
			require.Equal(t, "100", clerk.offset(at))
		}
		md5 := clerk.tus().with("Upload-Offset", "100").with("Upload-Checksum", "md5 AAAA")
		md5.send("PATCH", at, pieceType, data[100:]).refused(http.StatusBadRequest, "bad_header")
		clerk.tus().with("Upload-Offset", "100").send("PATCH", at, "image/jpeg", data[100:]).refused(http.StatusUnsupportedMediaType, "bad_content_type")
		clerk.tus().send("PATCH", at, pieceType, data[100:]).refused(http.StatusBadRequest, "bad_header")
		old := clerk.with("Tus-Resumable", "0.2.2").send("PATCH", at, pieceType, nil)
		old.refused(http.StatusPreconditionFailed, "tus_version")
		require.Equal(t, "1.0.0", old.Header.Get("Tus-Version"))
		clerk.piece(at, 100, append(bytes.Clone(data[100:]), 0)).refused(http.StatusRequestEntityTooLarge, "too_many_bytes")
		clerk.tus().send("HEAD", at, "", nil).want(http.StatusNotFound)

		create := func(headers ...string) answer {
			c := clerk.tus()
			for i := 0; i < len(headers); i += 2 {
				c = c.with(headers[i], headers[i+1])
			}
			return c.send("POST", w.path("/uploads"), "", nil)
		}
		large := create("Upload-Length", strconv.Itoa(61<<20))
		large.refused(http.StatusRequestEntityTooLarge, "too_many_bytes")
		require.Equal(t, strconv.Itoa(60<<20), large.Header.Get("Tus-Max-Size"))
		create().refused(http.StatusBadRequest, "bad_header")
		create("Upload-Length", "-1").refused(http.StatusBadRequest, "bad_header")
		create("Upload-Defer-Length", "1").refused(http.StatusBadRequest, "bad_header")
		create("Upload-Length", "0").refused(http.StatusUnprocessableEntity, "empty_file")
		create("Upload-Length", "9", "Upload-Metadata", "name ???").refused(http.StatusBadRequest, "bad_header")
		create("Upload-Length", "9", "Upload-Metadata", pairs("colour", "red")).refused(http.StatusUnprocessableEntity, "unknown_field")
		create("Upload-Length", "9", "Upload-Metadata", pairs("stage", "none such")).refused(http.StatusUnprocessableEntity, "unknown_stage")
		create("Upload-Length", "9", "Upload-Metadata", pairs("elevation", "nowhere")).want(http.StatusUnprocessableEntity)

		options := clerk.send("OPTIONS", w.path("/uploads"), "", nil).want(http.StatusNoContent)
		require.Equal(t, "creation,creation-with-upload,expiration,checksum,termination", options.Header.Get("Tus-Extension"))
		require.Equal(t, "sha256,sha1", options.Header.Get("Tus-Checksum-Algorithm"))
		_, reserved := w.stored()
		require.Zero(t, reserved)
		require.Empty(t, w.parts())
	})
}

func sum256(b []byte) []byte { s := sha256.Sum256(b); return s[:] }

func sum1(b []byte) []byte { s := sha1.Sum(b); return s[:] }

func TestAnotherPersonsUploadIsNotThere(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	at := w.as(defects.Clerk).begin(100, "")
	elsewhere := map[defects.Role]*client{}
	other := w.newSite("Osier Close", elsewhere)
	for name, c := range map[string]*client{"manager": w.as(defects.Manager), "stranger": elsewhere[defects.Clerk]} {
		c.tus().send("HEAD", at, "", nil).want(http.StatusNotFound)
		c.piece(at, 0, []byte("x")).want(http.StatusNotFound)
		require.Equal(t, http.StatusNotFound, c.tus().send("DELETE", at, "", nil).Status, name)
	}
	moved := strings.Replace(at, w.site.ID, other.ID, 1)
	elsewhere[defects.Clerk].piece(moved, 0, []byte("x")).refused(http.StatusNotFound, "upload_not_found")
	w.as(defects.Auditor).tus().with("Upload-Length", "9").send("POST", w.path("/uploads"), "", nil).refused(http.StatusForbidden, "role_forbidden")
	require.Equal(t, "0", w.as(defects.Clerk).offset(at))
	require.Empty(t, w.parts(), "asking makes no file")

	// Who may no longer add photos does not finish one.
	data := shot(t, 3, nil)
	at = w.as(defects.Clerk).begin(len(data), "")
	w.as(defects.Clerk).piece(at, 0, data[:900]).want(http.StatusNoContent)
	require.NoError(t, w.reg.SetRole(t.Context(), register.System("test"), w.site.ID, w.as(defects.Clerk).login, defects.Auditor, ""))
	w.as(defects.Clerk).piece(at, 900, data[900:]).refused(http.StatusForbidden, "role_forbidden")
}

func TestAFileThatIsNoPhotoIsRefusedWithItsFirstBytes(t *testing.T) {
	t.Parallel()
	onBoth(t, func(w *world) {
		clerk := w.as(defects.Clerk)
		at := clerk.begin(9_000_000, "")
		clerk.piece(at, 0, bytes.Repeat([]byte("%PDF-1.7 "), 10)).want(http.StatusNoContent)
		clerk.piece(at, 90, bytes.Repeat([]byte("%PDF-1.7 "), 200_000)).refused(http.StatusUnsupportedMediaType, "unsupported_type")
		clerk.tus().send("HEAD", at, "", nil).want(http.StatusNotFound)

		data := shot(t, 4, nil)
		cut := append(bytes.Clone(data[:len(data)-900]), make([]byte, 900)...)
		at = clerk.begin(len(cut), "")
		clerk.piece(at, 0, cut[:5000]).want(http.StatusNoContent)
		clerk.piece(at, 5000, cut[5000:]).refused(http.StatusUnprocessableEntity, "damaged_file")
		clerk.piece(at, 5000, cut[5000:]).refused(http.StatusNotFound, "upload_not_found")

		at = clerk.begin(900, "")
		clerk.piece(at, 0, data[:10]).want(http.StatusNoContent)
		override := clerk.tus().with("X-HTTP-Method-Override", "DELETE")
		override.send("POST", at, "", nil).want(http.StatusNoContent)
		clerk.tus().send("HEAD", at, "", nil).want(http.StatusNotFound)
		_, reserved := w.stored()
		require.Zero(t, reserved)
		require.Empty(t, w.parts())
	})
}

func TestAnUploadThatIsNotFinishedInTimeIsGoneWithItsBytes(t *testing.T) {
	t.Parallel()
	onBoth(t, func(w *world) {
		clerk := w.as(defects.Clerk)
		data := shot(t, 5, nil)
		at := clerk.begin(len(data), "")
		clerk.piece(at, 0, data[:700]).want(http.StatusNoContent)
		finished := clerk.begin(len(data), "")
		clerk.piece(finished, 0, data).want(http.StatusNoContent)
		w.clock.advance(register.UploadLife + time.Second)
		clerk.piece(at, 700, data[700:]).refused(http.StatusGone, "upload_expired")
		require.Empty(t, clerk.get(w.path("/uploads")).want(http.StatusOK).list("items"))
		require.Len(t, w.parts(), 1)
		n, err := w.reg.SweepUploads(t.Context())
		require.NoError(t, err)
		require.Equal(t, 1, n)
		require.Empty(t, w.parts())
		_, reserved := w.stored()
		require.Zero(t, reserved)
		clerk.get(at).refused(http.StatusGone, "upload_expired")
		clerk.get(finished).want(http.StatusOK)
		w.clock.advance(30 * 24 * time.Hour)
		_, err = w.reg.SweepUploads(t.Context())
		require.NoError(t, err)
		clerk.get(at).refused(http.StatusNotFound, "upload_not_found")

		orphan := filepath.Join(w.dir, "originals", "incoming", "parts", "left-behind")
		require.NoError(t, os.WriteFile(orphan, []byte("x"), 0o600))
		n, err = w.reg.SweepUploads(t.Context())
		require.NoError(t, err)
		require.Zero(t, n, "it may be a new one")
		require.NoError(t, os.Chtimes(orphan, time.Time{}, time.Now().Add(-2*time.Hour)))
		n, err = w.reg.SweepUploads(t.Context())
		require.NoError(t, err)
		require.Equal(t, 1, n)
		require.Empty(t, w.parts())
	})
}

// TestWhileOneSendsAnotherIsLockedOut has a request that is half sent, and a
// second process's server over the same database and folder.
func TestWhileOneSendsAnotherIsLockedOut(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	second := w.secondServer()
	clerk := w.as(defects.Clerk)
	data := shot(t, 6, nil)
	at := clerk.begin(len(data), "")
	head := fmt.Sprintf("PATCH %s HTTP/1.1\r\nHost: storeyrod.example\r\nAuthorization: Bearer %s\r\nTus-Resumable: 1.0.0\r\n"+
		"Content-Type: %s\r\nUpload-Offset: 0\r\nContent-Length: %d\r\n\r\n", at, clerk.token, pieceType, len(data))
	conn := halfSent(t, w, head, string(data[:2000]))
	require.Eventually(t, func() bool { return len(w.parts()) == 1 }, 10*time.Second, 5*time.Millisecond)
	for _, c := range []*client{clerk, second.of(clerk)} {
		c.piece(at, 0, data).refused(http.StatusLocked, "upload_locked")
		c.tus().send("DELETE", at, "", nil).refused(http.StatusLocked, "upload_locked")
		require.Equal(t, "0", c.offset(at))
	}
	// The connection dies; what came of it is safe, and the second server goes on.
	require.NoError(t, conn.(*net.TCPConn).SetLinger(0))
	require.NoError(t, conn.Close())
	require.Eventually(t, func() bool { return clerk.offset(at) == "2000" }, 10*time.Second, 10*time.Millisecond)
	done := second.of(clerk).piece(at, 2000, data[2000:]).want(http.StatusNoContent)
	require.Equal(t, data, clerk.get(done.Header.Get("Storeyrod-Photo")+"/original").want(http.StatusOK).Body)
}

func TestAPieceThatStallsKeepsWhatCame(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	clerk := w.as(defects.Clerk)
	data := shot(t, 7, nil)
	at := clerk.begin(len(data), "")
	head := fmt.Sprintf("PATCH %s HTTP/1.1\r\nHost: storeyrod.example\r\nAuthorization: Bearer %s\r\nTus-Resumable: 1.0.0\r\n"+
		"Content-Type: %s\r\nUpload-Offset: 0\r\nContent-Length: %d\r\n\r\n", at, clerk.token, pieceType, len(data))
	conn := halfSent(t, w, head, string(data[:3000]))
	res, err := http.ReadResponse(bufio.NewReader(conn), nil)
	require.NoError(t, err)
	defer res.Body.Close() //nolint:errcheck // read side
	_, err = io.ReadAll(res.Body)
	require.NoError(t, err)
	require.Equal(t, http.StatusRequestTimeout, res.StatusCode)
	require.Equal(t, "3000", clerk.offset(at))
	clerk.piece(at, 3000, data[3000:]).want(http.StatusNoContent)
}

// TestManySendersOfOneUploadNeverCorruptIt lets everybody send every piece over
// two servers, with whatever answer, until the upload is done.
func TestManySendersOfOneUploadNeverCorruptIt(t *testing.T) {
	t.Parallel()
	onBoth(t, func(w *world) {
		second := w.secondServer()
		clerk := w.as(defects.Clerk)
		data := shot(t, 8, nil)
		at := clerk.begin(len(data), "")
		var work sync.WaitGroup
		for i := range 4 {
			c := []*client{clerk, second.of(clerk)}[i%2]
			work.Go(func() {
				for range 500 {
					n, _ := strconv.Atoi(c.offset(at))
					if n == len(data) {
						return
					}
					got := c.piece(at, n, data[n:min(n+1500, len(data))])
					if got.Status != http.StatusNoContent && got.Status != http.StatusLocked && got.Status != http.StatusConflict {
						t.Errorf("%d %s", got.Status, got.Body)
					}
				}
			})
		}
		work.Wait()
		photo := clerk.get(at).want(http.StatusOK).str("photo")
		require.Equal(t, data, clerk.get(photo+"/original").want(http.StatusOK).Body)
	})
}

func TestAQuotaHoldsForEveryWayIn(t *testing.T) {
	t.Parallel()
	onBoth(t, func(w *world) {
		clerk, owner := w.as(defects.Clerk), w.as(defects.Owner)
		first, next := shot(t, 10, nil), shot(t, 11, nil)
		clerk.photo(first, nil).want(http.StatusCreated)
		quota := func(c *client, v any) answer {
			tag := c.get(w.path("/storage")).Header.Get("ETag")
			return c.with("If-Match", tag).json("PUT", w.path("/storage"), m{"quota_bytes": v})
		}
		quota(clerk, 1).refused(http.StatusForbidden, "role_forbidden")
		quota(owner, -1).want(http.StatusUnprocessableEntity)
		set := quota(owner, len(first)+len(next)-1).want(http.StatusOK)
		require.Equal(t, "site", set.str("quota_from"))

		clerk.photo(next, nil).refused(http.StatusRequestEntityTooLarge, "quota_full")
		clerk.tus().with("Upload-Length", strconv.Itoa(len(next))).send("POST", w.path("/uploads"), "", nil).
			refused(http.StatusRequestEntityTooLarge, "quota_full")
		clerk.photo(first, nil).want(http.StatusOK)
		var form bytes.Buffer
		fields := multipart.NewWriter(&form)
		file, err := fields.CreateFormFile("photo", "b.jpg")
		require.NoError(w.t, err)
		_, err = file.Write(next)
		require.NoError(w.t, err)
		require.NoError(w.t, fields.Close())
		res, err := w.browser(defects.Clerk).Post(w.http.URL+"/sites/"+w.site.ID+"/take-in/photos", fields.FormDataContentType(), &form)
		page := readPage(w.t, "take in", res)
		require.NoError(w.t, err)
		require.Contains(w.t, page.Body, "may take 0 megabytes")
		require.Contains(w.t, page.Body, "1 refused")

		// A reservation counts, and a finished one is counted once.
		quota(w.as(defects.Manager), len(first)+len(next)).want(http.StatusOK)
		at := clerk.begin(len(next), "")
		clerk.photo(shot(t, 12, nil), nil).refused(http.StatusRequestEntityTooLarge, "quota_full")
		clerk.piece(at, 0, next).want(http.StatusNoContent)
		photos, reserved := w.stored()
		require.EqualValues(t, len(first)+len(next), photos)
		require.Zero(t, reserved)
		require.Equal(t, "instance", quota(owner, nil).want(http.StatusOK).str("quota_from"))
		clerk.photo(shot(t, 12, nil), nil).want(http.StatusCreated)
	})
}

func TestManyPhotosAtOnceNeverPassTheQuota(t *testing.T) {
	t.Parallel()
	onBoth(t, func(w *world) {
		const room, many = 5, 16
		shots := make([][]byte, many)
		most := 0
		for i := range shots {
			shots[i] = shot(t, uint64(100+i), nil)
			most = max(most, len(shots[i]))
		}
		limit := int64(most * room)
		_, err := w.reg.UpdateSite(t.Context(), register.System("test"), w.site.ID, w.site.Version, register.SitePatch{PhotoQuota: &limit})
		require.NoError(t, err)
		var work sync.WaitGroup
		for i, data := range shots {
			work.Go(func() {
				clerk := w.as(defects.Clerk)
				if i%2 == 0 {
					clerk.photo(data, nil)
					return
				}
				clerk.tus().with("Upload-Length", strconv.Itoa(len(data))).send("POST", w.path("/uploads"), pieceType, data)
			})
		}
		work.Wait()
		photos, reserved := w.stored()
		require.Zero(t, reserved)
		require.LessOrEqual(t, photos, float64(limit))
		require.Greater(t, photos, float64(limit)-2*float64(most))
		sum := 0.0
		for _, p := range w.as(defects.Clerk).get(w.path("/photos?limit=100")).want(http.StatusOK).list("items") {
			sum += p["size"].(float64)
		}
		require.InDelta(t, sum, photos, 0)
	})
}

func TestHeadersOfUploadsAreReadOrRefused(t *testing.T) {
	t.Parallel()
	got, err := server.ParseMetadata("filename d29ybGQ=, note,kind ZGV0YWls")
	require.NoError(t, err)
	require.Equal(t, map[string]string{"filename": "world", "note": "", "kind": "detail"}, got)
	for _, bad := range []string{",", "a b c", "a ???", "a YQ==,a YQ==", " ,", "\u00e9 YQ==", strings.Repeat("a", 9000)} {
		_, err := server.ParseMetadata(bad)
		require.Error(t, err, bad)
	}
}

func FuzzUploadMetadata(f *testing.F) {
	f.Add("filename d29ybGQ=,is_confidential")
	f.Add(pairs("name", "a.jpg", "note", "ä\x00"))
	f.Fuzz(func(t *testing.T, text string) {
		got, err := server.ParseMetadata(text)
		if err != nil {
			return
		}
		var named []string
		for k, v := range got {
			named = append(named, k, v)
		}
		again, err := server.ParseMetadata(pairs(named...))
		if len(pairs(named...)) < 8<<10 {
			require.NoError(t, err)
			require.Equal(t, got, again)
		}
	})
}

func FuzzUploadChecksum(f *testing.F) {
	f.Add("sha256 "+base64.StdEncoding.EncodeToString(sum256(nil)), []byte{})
	f.Add("sha1 "+base64.StdEncoding.EncodeToString(sum1(nil)), []byte("x"))
	f.Fuzz(func(t *testing.T, text string, data []byte) {
		h, sum, err := server.ParseChecksum(text)
		if err != nil || h == nil {
			return
		}
		require.Len(t, sum, h.Size())
		h.Write(data)
		require.Len(t, h.Sum(nil), len(sum))
	})
}
