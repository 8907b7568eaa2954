package server_test

import (
	"encoding/json"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/imaging"
)

// shot is a rendered photo that says where, when and which way it was taken.
// Scenes differ by their seed, so that no two are the same bytes by chance.
func shot(t testing.TB, seed uint64, change func(*defects.Capture)) []byte {
	t.Helper()
	taken := day(11, 30)
	lat, lon, heading, accuracy := 53.40018, -1.49985, 178.0, 5.0
	c := defects.Capture{
		Make: "Invented", Model: "Phone 1", TakenLocal: "2026-06-01T12:30:00", UTCOffset: "+01:00", TakenUTC: &taken,
		Lat: &lat, Lon: &lon, Direction: &heading, DirectionBy: "T", HErrorM: &accuracy,
	}
	if change != nil {
		change(&c)
	}
	data, err := imaging.RenderJPEG(imaging.SceneSpec{Width: 320, Height: 240, Seed: seed}, c)
	require.NoError(t, err)
	return data
}

// photo sends a photo and answers it.
func (c *client) photo(data []byte, fields url.Values) answer {
	c.w.t.Helper()
	return c.send("POST", c.w.path("/photos")+"?"+fields.Encode(), "image/jpeg", data)
}

func flags(a answer) (codes []string) {
	for _, f := range a.list("flags") {
		codes = append(codes, f["code"].(string))
	}
	return codes
}

func TestJ5WhichWayWasTheCameraLooking(t *testing.T) {
	t.Parallel()
	onBoth(t, func(w *world) {
		north := w.walls()["North"]
		clerk := w.as(defects.Clerk)
		chosen := url.Values{"elevation": {north}}

		coherent := clerk.photo(shot(t, 1, nil), chosen).want(http.StatusCreated)
		require.Equal(t, "A", coherent.str("grade"), "9 m in front of the wall, looking south: %s", coherent.Body)
		require.Empty(t, flags(coherent))

		away := clerk.photo(shot(t, 2, func(c *defects.Capture) { *c.Direction = 12 }), chosen).want(http.StatusCreated)
		require.Contains(t, flags(away), defects.FlagLookedAway)
		require.Contains(t, string(away.Body), "South", "names the elevation it may show")

		// A ten-thousandth of a degree of latitude is some 11 m.
		unproven := clerk.photo(shot(t, 3, func(c *defects.Capture) { *c.Lat, *c.HErrorM = 53.4001+0.00064, 65 }), chosen).want(http.StatusCreated)
		require.Contains(t, flags(unproven), defects.FlagPlaceNotProven)
		require.NotEqual(t, "A", unproven.str("grade"), "at most B")

		outside := clerk.photo(shot(t, 4, func(c *defects.Capture) { *c.Lat, *c.HErrorM = 53.4001+0.0022, 8 }), chosen).want(http.StatusCreated)
		require.Contains(t, flags(outside), defects.FlagOutsideFence)
		require.Equal(t, "X", outside.str("grade"))
		path := w.path("/photos/%s", outside.str("id"))
		w.as(defects.Installer).with("If-Match", outside.Header.Get("ETag")).
			json("PATCH", path, m{"overrule": "seen it taken"}).want(http.StatusForbidden)
		overruled := clerk.with("If-Match", outside.Header.Get("ETag")).json("PATCH", path, m{"overrule": "I stood beside him"}).want(http.StatusOK)
		require.NotEqual(t, "X", overruled.str("grade"))
		require.Equal(t, "I stood beside him", overruled.str("overruled"))

		noGPS := func(c *defects.Capture) { c.Lat, c.Lon, c.Direction, c.DirectionBy, c.HErrorM = nil, nil, nil, "", nil }
		bare := clerk.photo(shot(t, 5, noGPS), chosen).want(http.StatusCreated)
		require.Equal(t, "C", bare.str("grade"))
		chosen.Set("label_seen", "true")
		labelled := clerk.photo(shot(t, 6, noGPS), chosen).want(http.StatusCreated)
		require.Equal(t, "B", labelled.str("grade"), "the label board can be read in frame")
	})
}

func TestTheSameBytesByAnyWayInAreOnePhoto(t *testing.T) {
	t.Parallel()
	onBoth(t, func(w *world) {
		w.walls()
		data := shot(t, 1, nil)
		first := w.as(defects.Clerk).photo(data, nil).want(http.StatusCreated)
		again := w.as(defects.Installer).photo(data, nil).want(http.StatusOK)
		require.Equal(t, first.str("id"), again.str("id"))
		body, kind := form(t, "file", "again.jpg", data, nil)
		byForm := w.as(defects.Clerk).send("POST", w.path("/photos"), kind, body).want(http.StatusOK)
		require.Equal(t, first.str("id"), byForm.str("id"))
		original := w.as(defects.Clerk).get(w.path("/photos/%s/original", first.str("id"))).want(http.StatusOK)
		require.Equal(t, data, original.Body, "bytes are kept as received")
	})
}

func TestViewCopiesAreUprightStrippedAndServedInRanges(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	w.walls()
	p := w.as(defects.Clerk).photo(shot(t, 1, func(c *defects.Capture) { c.Orientation = 6 }), nil).want(http.StatusCreated)
	path := w.path("/photos/%s/preview", p.str("id"))
	w.as(defects.Clerk).get(path).refused(http.StatusServiceUnavailable, "not_ready_yet")
	done, err := w.reg.DeriveWaiting(t.Context(), 10)
	require.NoError(t, err)
	require.Equal(t, 1, done)
	got := w.as(defects.Auditor).get(path).want(http.StatusOK)
	require.Equal(t, "image/jpeg", got.Header.Get("Content-Type"))
	require.NotContains(t, string(got.Body), "Exif")
	part := w.as(defects.Auditor).with("Range", "bytes=0-9").get(path).want(http.StatusPartialContent)
	require.Equal(t, got.Body[:10], part.Body)
	w.as(defects.Auditor).with("If-None-Match", got.Header.Get("ETag")).get(path).want(http.StatusNotModified)
}

func TestAPhotoFromACameraThatRunsAheadIsFlagged(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	w.clock.set(time.Date(2026, 11, 2, 7, 25, 0, 0, time.UTC))
	w.walls()
	p := w.as(defects.Clerk).photo(shot(t, 1, func(c *defects.Capture) {
		c.TakenLocal, c.UTCOffset, c.TakenUTC = "2026-11-02T08:20:00", "", nil
	}), nil).want(http.StatusCreated)
	require.Contains(t, flags(p), defects.FlagClockAhead)
	require.Contains(t, string(p.Body), "55 min")
	require.Equal(t, "2026-11-02T08:20:00", p.str("capture.taken_local"), "the stored original keeps its time")
}

func TestHashesTellWhatNeedNotBeSentAndNothingOfOthersPhotos(t *testing.T) {
	t.Parallel()
	onBoth(t, func(w *world) {
		clerk, operative := w.as(defects.Clerk), w.as(defects.Operative)
		theirs := clerk.photo(shot(t, 31, nil), nil).want(http.StatusCreated)
		own := operative.photo(shot(t, 32, nil), nil).want(http.StatusCreated)
		ask := m{"sha256": []string{theirs.str("sha256"), own.str("sha256"), strings.Repeat("0", 64)}}

		require.ElementsMatch(t, []map[string]any{
			{"sha256": theirs.str("sha256"), "id": theirs.str("id")}, {"sha256": own.str("sha256"), "id": own.str("id")},
		}, clerk.post(w.path("/photos/known"), ask).want(http.StatusOK).list("known"))
		require.Equal(t, []map[string]any{{"sha256": own.str("sha256"), "id": own.str("id")}},
			operative.post(w.path("/photos/known"), ask).want(http.StatusOK).list("known"))

		clerk.post(w.path("/photos/known"), m{"sha256": []string{"abc"}}).refused(http.StatusUnprocessableEntity, "bad_hash")
		many := make([]string, 501)
		clerk.post(w.path("/photos/known"), m{"sha256": many}).refused(http.StatusUnprocessableEntity, "too_many_hashes")
		require.Empty(t, clerk.post(w.path("/photos/known"), m{"sha256": []string{}}).want(http.StatusOK).list("known"))
	})
}

func TestCoverageNamesTheCellsWithoutAUsablePhoto(t *testing.T) {
	t.Parallel()
	onBoth(t, func(w *world) {
		north, clerk := w.walls()["North"], w.as(defects.Clerk)
		at := func(seed uint64, query string) string {
			return clerk.send("POST", w.path("/photos?elevation=%s&stage=BM&%s", north, query), "image/jpeg", shot(t, seed, nil)).
				want(http.StatusCreated).str("id")
		}
		good, short := at(1, "bay=1&lift=1&scale_seen=true"), at(2, "bay=2&lift=1")
		loose := at(3, "scale_seen=true")
		got := clerk.get(w.path("/elevations/%s/coverage?stage=BM", north)).want(http.StatusOK)
		require.Equal(t, "true", got.str("scale_in_frame"), "the table of photos asks for a scale at this stage")
		var body struct {
			Cells []struct {
				Bay, Lift int
				Usable    []string
				Short     []struct{ ID, Why string }
			}
			Without int
			Loose   []string
		}
		require.NoError(t, json.Unmarshal([]byte(got.Body), &body))
		require.Equal(t, len(body.Cells)-1, body.Without)
		require.Equal(t, []string{loose}, body.Loose)
		for _, c := range body.Cells {
			switch {
			case c.Bay == 1 && c.Lift == 1:
				require.Equal(t, []string{good}, c.Usable)
			case c.Bay == 2 && c.Lift == 1:
				require.Equal(t, short, c.Short[0].ID)
				require.Equal(t, "no scale in frame", c.Short[0].Why)
			default:
				require.Empty(t, c.Usable)
			}
		}
		clerk.get(w.path("/elevations/%s/coverage?stage=BM&scale=no", north)).want(http.StatusOK).str("without")
		clerk.get(w.path("/elevations/%s/coverage?stage=nothing", north)).want(http.StatusUnprocessableEntity)
		clerk.get(w.path("/elevations/%s/coverage", north)).want(http.StatusUnprocessableEntity)
	})
}
