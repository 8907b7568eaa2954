package statistics

import (
	"bytes"
	"cmp"
	"crypto/sha256"
	"fmt"
	"slices"
	"strings"
)

// Item is one member of a lot to draw from. Stratum groups items that must each
// be represented: a gang, a stage, a building; "" = none.
type Item struct {
	ID      string
	Stratum string
}

// Drawn is an audit sample. Risk picks are chosen by a person and kept apart:
// they say nothing about the lot and do not count in its statistics.
type Drawn struct {
	Seed   string
	Sample []Item
	Risk   []Item
}

const maxLot = 1_000_000

// Draw takes n items of a lot, the same ones on any machine. Each item's rank is
// SHA-256 of
//
//	seed, a line feed, item id
//
// in UTF-8; within a stratum the items with the smallest ranks are drawn, so
// that anybody can check a draw with sha256sum and sort, and an item joining the
// lot later moves no other. Strata share n in proportion to their size by
// largest remainder (ties by name), each at least one when n allows. The sample
// is in the order of rank, stratum by stratum by name.
//
// Risk picks are looked up in the lot and listed apart; drawing one as well does
// not take it out of the sample. A lot with two items of one id, an unknown risk
// pick or a line feed in the seed is refused.
func Draw(seed string, lot []Item, n int, risk ...string) (Drawn, error) {
	if err := checkLot(seed, lot, n); err != nil {
		return Drawn{}, err
	}
	strata := map[string][]Item{}
	byID := make(map[string]Item, len(lot))
	for _, it := range lot {
		if _, twice := byID[it.ID]; twice {
			return Drawn{}, bad("lot", "duplicate_item", "item %q is in the lot twice", it.ID)
		}
		byID[it.ID] = it
		strata[it.Stratum] = append(strata[it.Stratum], it)
	}
	out := Drawn{Seed: seed, Sample: make([]Item, 0, n)}
	for _, share := range shares(strata, n) {
		out.Sample = append(out.Sample, ranked(seed, strata[share.name])[:share.n]...)
	}
	for _, id := range risk {
		it, ok := byID[id]
		if !ok {
			return Drawn{}, bad("risk", "unknown_item", "risk pick %q is not in the lot", id)
		}
		out.Risk = append(out.Risk, it)
	}
	return out, nil
}

func checkLot(seed string, lot []Item, n int) error {
	switch {
	case seed == "" || strings.Contains(seed, "\n") || len(seed) > 200:
		return bad("seed", "bad_seed", "a seed is 1 to 200 bytes on one line")
	case len(lot) > maxLot:
		return bad("lot", CodeBadValue, "a lot has at most %d items", maxLot)
	case n < 0 || n > len(lot):
		return bad("n", CodeBadValue, "the sample (%d) must lie within the lot (%d)", n, len(lot))
	}
	return nil
}

func ranked(seed string, items []Item) []Item {
	type rank struct {
		sum  [sha256.Size]byte
		item Item
	}
	list := make([]rank, len(items))
	for i, it := range items {
		list[i] = rank{sha256.Sum256([]byte(seed + "\n" + it.ID)), it}
	}
	slices.SortFunc(list, func(a, b rank) int { return bytes.Compare(a.sum[:], b.sum[:]) })
	out := make([]Item, len(list))
	for i, r := range list {
		out[i] = r.item
	}
	return out
}

type share struct {
	name      string
	n         int
	size      int
	remainder int
}

// shares gives each stratum its part of n, by name.
func shares(strata map[string][]Item, n int) []share {
	list := make([]share, 0, len(strata))
	total := 0
	for name, items := range strata {
		list = append(list, share{name: name, size: len(items)})
		total += len(items)
	}
	slices.SortFunc(list, func(a, b share) int { return cmp.Compare(a.name, b.name) })
	left := n
	floor := 0
	if n >= len(list) {
		floor = 1
	}
	for i := range list {
		s := &list[i]
		s.n, s.remainder = max(floor, n*s.size/total), n*s.size%total
		left -= s.n
	}
	order := make([]*share, len(list))
	for i := range list {
		order[i] = &list[i]
	}
	slices.SortStableFunc(order, func(a, b *share) int { return cmp.Compare(b.remainder, a.remainder) })
	for i := 0; left > 0; i = (i + 1) % len(order) {
		if s := order[i]; s.n < s.size {
			s.n, left = s.n+1, left-1
		}
	}
	// The floor of one may have given out too many: take from the largest part.
	for ; left < 0; left++ {
		largest := slices.MaxFunc(order, func(a, b *share) int { return cmp.Compare(a.n, b.n) })
		largest.n--
	}
	return list
}

// Numbered is a lot of items 1 to n without strata.
func Numbered(n int) []Item {
	lot := make([]Item, n)
	for i := range lot {
		lot[i].ID = fmt.Sprint(i + 1)
	}
	return lot
}

// Extend is the whole of a stratum, which a critical or major finding in it
// proposes to inspect (common practice, no source).
func Extend(lot []Item, stratum string) []Item {
	var out []Item
	for _, it := range lot {
		if it.Stratum == stratum {
			out = append(out, it)
		}
	}
	return out
}
