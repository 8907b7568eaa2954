package server_test

import (
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
)

func TestStatisticsAndBudgetAreReadOnPages(t *testing.T) {
	t.Parallel()
	for _, screen := range screens {
		w := onSQLite(t)
		walls := w.walls()
		w.schedule(jointSchedule)
		tool := w.as(defects.Clerk).post(w.path("/instruments"), m{"name": "taper gauge", "unit": "mm", "resolution": "0.1", "repeatability": "0.12", "repeats": 6}).
			want(http.StatusCreated).str("id")
		set := w.as(defects.Clerk).post(w.path("/sets"), m{"quantity": "joint_width_bed", "name": "North, lift 1", "stage": "SL"}).want(http.StatusCreated).str("id")
		ids := w.jointReadings(m{"elevation": walls["North"], "gang": "Larch", "instrument": tool, "set": set},
			strings.Fields("9.8 10.1 10.4 9.6 10.0 10.2 9.9 10.3 10.1 9.7 10.0 10.5 9.9 12.9 15.9")...)
		site := "/sites/" + w.site.ID
		b := openTab(t, w, screen)
		b.signIn(defects.Clerk)
		b.open(site + "/readings/" + ids[13])
		require.Contains(t, b.says("#settle"), "What would settle it: 6 repeats in all would settle it if their mean stays")
		b.eval(`document.querySelector('#budget').open = true; ""`)
		require.Contains(t, b.says("#budget"), "repeatability, found from 6 repeats")
		b.fits()
		b.barriers()
		b.shoot("budget")

		b.open(site + "/readings?quantity=joint_width_bed")
		b.press(`main a[href*="/statistics"]`)
		require.Contains(t, b.says("main"), "is an outlier")
		require.Contains(t, b.says("main"), "With 95 % confidence 90 % of what these readings came from lie between")
		require.Contains(t, b.says("main"), "1 of 15, 6.7 %")
		b.eval(`document.querySelectorAll("main details").forEach((d) => { d.open = true }); ""`)
		b.set(`[name="aql"]`, "1.0")
		b.fits()
		b.barriers()
		b.press(`form.filter details button`)
		require.Contains(t, b.says("main"), "n = 15, k = 1.790 (MIL-STD-414 Table B-1, AQL 1.0 %, code letter G)")
		b.eval(`document.querySelectorAll("main details").forEach((d) => { d.open = true }); ""`)
		require.Equal(t, "15", b.eval(`String(document.querySelectorAll("section.panel tbody tr").length)`))
		require.Contains(t, b.says("section.panel tbody tr:last-child"), "beyond the limits")
		b.fits()
		b.barriers()
		b.shoot("statistics")

		b.open(site + "/sets/" + set)
		require.Contains(t, b.says("#spread"), "Readings that stand")
		b.fits()
		b.barriers()
		b.shoot("set")
		b.open(site + "/elevations/" + walls["North"])
		b.press(`main a[href*="/statistics?elevation="]`)
		require.Contains(t, b.says("main"), "In the order of the work")

		b.open(site + "/instruments")
		b.eval(`document.querySelectorAll("main details").forEach((d) => { d.open = true }); ""`)
		b.set(`form[action$="/repeats"] textarea`, "10.2 10.4 10.1 10.3 10.2")
		b.fits()
		b.barriers()
		b.press(`form[action$="/repeats"] button`)
		require.Contains(t, b.says("main"), "single repeats spread by s = 0.114 mm, from 5")
		b.quiet()
	}
}
