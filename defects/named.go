package defects

import (
	"slices"
	"strings"
)

// Named finds what a person calls by its id or by one of its names: the one with
// that id, else all with that name, upper and lower case alike. Only one is an
// answer; none or several are for the caller to refuse in his own words.
func Named[T any](list []T, called string, id func(T) string, names func(T) []string) []T {
	var found []T
	for _, v := range list {
		if id(v) == called {
			return []T{v}
		}
		if slices.ContainsFunc(names(v), func(name string) bool { return strings.EqualFold(name, called) }) {
			found = append(found, v)
		}
	}
	return found
}

// WallNames are the names an elevation goes by: its own, and with its
// building's before it.
func WallNames(building, elevation string) []string {
	return []string{elevation, building + " / " + elevation}
}
