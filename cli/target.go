package cli

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"storeyrod/defects"
)

// target is an instance that verbs put things into and take lists out of: a
// data folder on this machine, or a server.
type target interface {
	site(ctx context.Context, idOrName string) (siteRef, error)
	// photo takes one in.
	photo(ctx context.Context, siteID, name string, body io.ReadSeeker) (photoAnswer, error)
	// photosByHash tells the ids of the photos that the site has, by SHA-256; it
	// may leave some out.
	photosByHash(ctx context.Context, siteID string, shas []string) (map[string]string, error)
	// atOnce is how many photos it takes best at once.
	atOnce() int
	readings(ctx context.Context, siteID string, table []byte, tell func(done int)) (tally, error)
	buildings(ctx context.Context, siteID string, geojson []byte) (tally, error)
	snags(ctx context.Context, site siteRef, q listQuery, w io.Writer) error
	close() error
}

// siteRef is what verbs need to know of a site.
type siteRef struct{ id, name, zone string }

// photoAnswer is what became of a photo; known says that the site had the bytes
// already.
type photoAnswer struct {
	id    string
	known bool
}

// listQuery says which snags to export and how.
type listQuery struct {
	elevation string // id, "Building / Name", or a name used once; "" = all
	format    string // "csv", "json" or "geojson"
	open      bool   // only what still owes work or a decision
}

// refusal is one thing that was not taken, and why.
type refusal struct{ item, code, text string }

// tally counts what became of many things.
type tally struct {
	taken, known int
	refused      []refusal
	notes        []string
	outcomes     map[defects.Outcome]int // of the readings taken
	skipped      map[string]int          // what is no photo and does not claim to be, by ending
	most         int                     // refusals listed one by one; 0 = all
}

// add sums up what became of a further part.
func (t *tally) add(more tally) {
	t.taken += more.taken
	t.known += more.known
	t.refused = append(t.refused, more.refused...)
	t.notes = append(t.notes, more.notes...)
	for o, n := range more.outcomes {
		if t.outcomes == nil {
			t.outcomes = map[defects.Outcome]int{}
		}
		t.outcomes[o] += n
	}
}

// write is the summary every import ends with.
func (t tally) write(w io.Writer, what string) error {
	for _, note := range append(t.notes, outcomeWords(t.outcomes)...) {
		fmt.Fprintln(w, note)
	}
	fmt.Fprintf(w, "%-8s %6d %s\n%-8s %6d\n%-8s %6d\n", "taken", t.taken, what, "known", t.known, "refused", len(t.refused))
	reasons := map[string]int{}
	for _, r := range t.refused {
		reasons[r.code]++
	}
	for _, code := range slices.SortedFunc(maps.Keys(reasons), func(a, b string) int {
		return cmp.Or(reasons[b]-reasons[a], cmp.Compare(a, b))
	}) {
		fmt.Fprintf(w, "%-8s %6d %s\n", "", reasons[code], code)
	}
	if len(t.skipped) > 0 {
		n, kinds := 0, []string{}
		for _, kind := range slices.Sorted(maps.Keys(t.skipped)) {
			n += t.skipped[kind]
			kinds = append(kinds, fmt.Sprintf("%d %s", t.skipped[kind], kind))
		}
		fmt.Fprintf(w, "%-8s %6d no photos: %s\n", "skipped", n, strings.Join(kinds, ", "))
	}
	return t.list(w)
}

// list tells what was refused, one a line.
func (t tally) list(w io.Writer) error {
	for i, r := range t.refused {
		if i == t.most && i > 0 {
			fmt.Fprintf(w, "  and %d more; --report FILE.csv writes every one\n", len(t.refused)-i)
			break
		}
		if _, err := fmt.Fprintf(w, "  %s: %s [%s]\n", r.item, r.text, r.code); err != nil {
			return fmt.Errorf("write: %w", err)
		}
	}
	return nil
}

// verdict is nil when all was taken.
func (t tally) verdict() error {
	if n := len(t.refused); n > 0 {
		return &refusedError{fmt.Sprintf("%d of %d refused", n, n+t.taken+t.known)}
	}
	return nil
}

// targetFlags name either kind of target.
type targetFlags struct {
	place
	server string
	token  string
	make   bool // whether a data folder without an instance is made into one
}

func addTargetFlags(cmd *cobra.Command, t *targetFlags, env func(string) string) {
	placeFlags(cmd, &t.place, env)
	cmd.Flags().StringVar(&t.server, "server", env("STOREYROD_SERVER"), "address of a running server, instead of a data folder (STOREYROD_SERVER)")
	cmd.Flags().StringVar(&t.token, "token", "", "token for the server; better in STOREYROD_TOKEN, where no list of processes shows it")
}

// open opens the target that the flags name.
func (t targetFlags) open(cmd *cobra.Command, env func(string) string) (target, error) {
	if t.server == "" {
		if err := t.known(); err != nil && !t.make {
			return nil, err
		}
		inst, err := t.place.open(cmd.Context(), time.Now, quiet(cmd.ErrOrStderr()))
		if err != nil {
			return nil, err
		}
		return &localTarget{inst}, nil
	}
	for _, flag := range []string{"data", "database", "blobs"} {
		if cmd.Flags().Changed(flag) {
			return nil, usagef("--server and --%s name two different places", flag)
		}
	}
	token := fallback(t.token, env("STOREYROD_TOKEN"))
	if token == "" {
		return nil, usagef("--server needs a token: give --token or STOREYROD_TOKEN")
	}
	return newClient(t.server, token)
}

// namedWall is an elevation as lists name it.
type namedWall struct{ id, building, name string }

// findWall takes an id, "Building / Name", or a name that only one has.
func findWall(walls []namedWall, named string) (string, error) {
	found := defects.Named(walls, named, func(w namedWall) string { return w.id },
		func(w namedWall) []string { return defects.WallNames(w.building, w.name) })
	switch len(found) {
	case 1:
		return found[0].id, nil
	case 0:
		return "", defects.RefuseField(defects.NotFound, "elevation", "elevation_not_found", fmt.Sprintf("the site has no elevation %q", clip(named)))
	}
	return "", defects.RefuseField(defects.Conflict, "elevation", "elevation_ambiguous",
		fmt.Sprintf("%d elevations are called %q; write the building too, as in \"Building / %s\"", len(found), clip(named), clip(named)))
}
