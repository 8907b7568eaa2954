package server

import (
	"net/url"
	"strconv"

	"storeyrod/web"
)

// areaHref gives, for the brick that stands for many snags of a drawing, the
// list of its bay and lift under the choice in force; filter may be nil.
func areaHref(f frame, elevation string, filter *web.Form) func(bay, lift int) string {
	return func(bay, lift int) string {
		q := url.Values{}
		if filter != nil {
			for _, name := range filterNames() {
				if value := typed(filter, name); value != "" {
					q.Set(name, value)
				}
			}
		}
		for name, n := range map[string]int{"bay": bay, "lift": lift} {
			if n > 0 {
				q.Set(name, strconv.Itoa(n))
			}
		}
		return f.Path("elevations", elevation) + "?" + q.Encode() + "#snag-list"
	}
}
