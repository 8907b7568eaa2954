package server

import (
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

func TestTheMenuLeadsToEachPageOnceAndOnlyWhereARoleMayGo(t *testing.T) {
	t.Parallel()
	pages := func(role defects.Role) map[string]int {
		seen := map[string]int{}
		for _, g := range menuOf(register.SiteView{Site: defects.Site{ID: "s"}, Role: role}, "weather") {
			require.Equal(t, g.Title == "Measuring", g.Here, g.Title)
			for _, p := range g.Pages {
				seen[p.Href]++
			}
		}
		for href, n := range seen {
			require.Equal(t, 1, n, href)
		}
		return seen
	}
	require.Contains(t, pages(defects.Clerk), "/sites/s/log")
	require.Contains(t, pages(defects.Clerk), "/sites/s/plan")
	require.Contains(t, pages(defects.Auditor), "/sites/s/sample")
	require.NotContains(t, pages(defects.Auditor), "/sites/s/take-in")
	require.NotContains(t, pages(defects.Operative), "/sites/s/sample")
	require.Contains(t, pages(defects.Operative), "/sites/s/take-in")
}
