package server_test

import (
	"encoding/csv"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
)

func TestTheInspectionPlanFollowsWhatIsRecorded(t *testing.T) {
	t.Parallel()
	onBoth(t, func(w *world) {
		north := w.walls()["North"]
		clerk := w.as(defects.Clerk)
		require.Empty(t, clerk.get(w.path("/plan")).want(http.StatusOK).list("items"))
		clerk.post(w.path("/milestones"), m{"kind": "cover-up", "stage": "SL", "on": "2026-06-12", "elevation_id": north}).want(http.StatusOK)
		items := clerk.get(w.path("/plan")).want(http.StatusOK).list("items")
		require.NotEmpty(t, items)
		for _, one := range items {
			require.Equal(t, "2026-06-12", one["before"])
			require.Equal(t, "North", one["elevation"])
			require.NotEqual(t, "SL", one["stage"], "what starts is not hidden yet")
		}
		base := clerk.get(w.path("/plan?stage=BM&elevation=%s", north)).want(http.StatusOK).list("items")
		require.Len(t, base, 1)
		cells := base[0]["cells"].([]any)
		require.Equal(t, true, base[0]["scale_in_frame"])
		clerk.post(w.path("/releases"), m{"hold_point": "H7", "elevation_id": north, "outcome": "released"}).want(http.StatusCreated)
		left := clerk.get(w.path("/plan?stage=BM&elevation=%s", north)).want(http.StatusOK).list("items")
		require.Len(t, left[0]["cells"], len(cells), "the photos are still missing")
		require.Equal(t, false, left[0]["cells"].([]any)[0].(map[string]any)["release_missing"])

		table := clerk.get(w.path("/plan?format=csv&stage=BM&elevation=%s", north)).want(http.StatusOK)
		require.Equal(t, "text/csv; charset=utf-8", table.Header.Get("Content-Type"))
		rows, err := csv.NewReader(strings.NewReader(string(table.Body))).ReadAll()
		require.NoError(t, err)
		require.Len(t, rows, len(cells)+1)

		clerk.get(w.path("/plan?format=xml")).want(http.StatusUnprocessableEntity)
		clerk.get(w.path("/plan?worst_grade=Z")).want(http.StatusUnprocessableEntity)
		clerk.get(w.path("/plan?stage=ZZ")).want(http.StatusUnprocessableEntity)
		clerk.get(w.path("/plan?unknown=1")).want(http.StatusUnprocessableEntity)
		clerk.get(w.path("/plan?elevation=nothing")).want(http.StatusNotFound)
	})
}

func TestTheInspectionPlanIsReadOnAPage(t *testing.T) {
	t.Parallel()
	for _, sc := range screens {
		w := onSQLite(t)
		north := w.walls()["North"]
		w.as(defects.Clerk).post(w.path("/milestones"), m{"kind": "cover-up", "stage": "BM", "on": "2026-06-12", "elevation_id": north}).want(http.StatusOK)
		b := openTab(t, w, sc)
		b.signIn(defects.Clerk)
		b.open("/sites/" + w.site.ID + "/plan?" + url.Values{"stage": {"IB"}, "elevation": {north}}.Encode())
		require.Contains(t, b.says("main"), "Before 12 Jun 2026: Base coat and mesh starts.")
		require.Contains(t, b.says("main"), "To photograph, with a scale in frame")
		require.Contains(t, b.says("main"), "H3 to be released by clerk")
		require.Contains(t, b.says(".cautions"), "Do not inspect from a scaffold that is unfinished")
		require.Contains(t, b.says(".cautions"), "more than 2 m above the ground")
		b.eval(`document.querySelectorAll("main details").forEach((d) => { d.open = true }); ""`)
		b.fits()
		b.barriers()
		b.shoot("plan")
		b.press(`.plan-stage a[href*="/take-in?"]`)
		require.Equal(t, "IB", b.eval(`document.querySelector("[name=stage]").value`))
		b.quiet()
	}
}
