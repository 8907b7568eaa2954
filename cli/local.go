package cli

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"runtime"
	"time"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/report"
)

// The largest files taken, as the server takes them.
const (
	maxTable = 16 << 20
	maxChunk = 2000 // readings between two words of progress
)

// localTarget is a data folder. What is done to it is the operator's.
type localTarget struct{ *instance }

func operator() register.Actor { return register.System(device()) }

func (t *localTarget) site(ctx context.Context, idOrName string) (siteRef, error) {
	v, err := t.reg.FindSite(ctx, operator(), idOrName)
	if err != nil {
		return siteRef{}, err
	}
	return siteRef{v.ID, v.Name, v.TimeZone}, nil
}

func (t *localTarget) photo(ctx context.Context, siteID, name string, body io.ReadSeeker) (photoAnswer, error) {
	p, known, err := t.reg.TakePhoto(ctx, operator(), siteID, body, register.PhotoInput{FileName: name})
	return photoAnswer{p.ID, known}, err
}

func (t *localTarget) photosByHash(ctx context.Context, siteID string, shas []string) (map[string]string, error) {
	found, err := t.reg.PhotosByHash(ctx, operator(), siteID, shas)
	ids := make(map[string]string, len(found))
	for _, p := range found {
		ids[p.SHA256] = p.ID
	}
	return ids, err
}

// atOnce is by processors, and two at least: one photo is read while another
// waits for the disk.
func (t *localTarget) atOnce() int { return max(2, runtime.GOMAXPROCS(0)) }

func (t *localTarget) readings(ctx context.Context, siteID string, table []byte, tell func(int)) (tally, error) {
	var out tally
	inputs, refused, err := register.ParseReadingsCSV(bytes.NewReader(table), maxTable)
	if err != nil {
		return out, err
	}
	out.refused = refusals(refused)
	out.outcomes = map[defects.Outcome]int{}
	for len(inputs) > 0 {
		chunk := inputs[:min(maxChunk, len(inputs))]
		inputs = inputs[len(chunk):]
		results, err := t.reg.AddReadings(ctx, operator(), siteID, chunk)
		if err != nil {
			return out, err
		}
		for _, r := range results {
			if r.Err != nil {
				out.refused = append(out.refused, refusal{fmt.Sprintf("row %d", r.Row), r.Err.CodeOrKind(), r.Err.Error()})
				continue
			}
			if r.Known {
				out.known++
				continue
			}
			out.taken++
			out.outcomes[r.Reading.Verdict.Outcome]++
		}
		tell(len(chunk))
	}
	return out, nil
}

// outcomeWords sums verdicts up in one line.
func outcomeWords(n map[defects.Outcome]int) []string {
	if len(n) == 0 {
		return nil
	}
	return []string{fmt.Sprintf("verdicts: %d pass, %d conditional-pass, %d conditional-fail, %d fail, %d none",
		n[defects.Pass], n[defects.ConditionalPass], n[defects.ConditionalFail], n[defects.Fail], n[defects.NoVerdict])}
}

func refusals(list []register.Refusal) []refusal {
	var out []refusal
	for _, r := range list {
		out = append(out, refusal{r.Item, r.Err.CodeOrKind(), r.Err.Error()})
	}
	return out
}

func (t *localTarget) buildings(ctx context.Context, siteID string, geojson []byte) (tally, error) {
	var out tally
	list, refused, err := register.ParseGeoJSON(bytes.NewReader(geojson), maxTable)
	if err != nil {
		return out, err
	}
	taken, err := t.reg.AddBuildings(ctx, operator(), siteID, list)
	if err != nil {
		return out, err
	}
	out.taken, out.known = len(taken.Buildings), len(taken.Known)
	out.refused = refusals(append(refused, taken.Refused...))
	out.notes = append(taken.Notes, fmt.Sprintf("elevations: %d", len(taken.Elevations)))
	return out, nil
}

func (t *localTarget) snags(ctx context.Context, site siteRef, q listQuery, w io.Writer) error {
	zone, err := time.LoadLocation(site.zone)
	if err != nil {
		return fmt.Errorf("time zone of %s: %w", site.name, err)
	}
	filter := register.ListFilter{All: !q.open}
	if q.elevation == "" {
		lists, err := t.reg.SnagLists(ctx, operator(), site.id, filter)
		if err != nil {
			return err
		}
		return t.writeLists(ctx, site, q, lists, zone, w)
	}
	id, err := t.wall(ctx, site, q.elevation)
	if err != nil {
		return err
	}
	list, err := t.reg.SnagList(ctx, operator(), site.id, id, filter)
	if err != nil {
		return err
	}
	if q.format == "json" {
		return writeJSON(w, report.SnagListOf(list, zone))
	}
	return t.writeLists(ctx, site, q, []defects.SnagList{list}, zone, w)
}

func (t *localTarget) wall(ctx context.Context, site siteRef, named string) (string, error) {
	all, err := t.reg.Elevations(ctx, operator(), site.id)
	if err != nil {
		return "", err
	}
	walls := make([]namedWall, len(all))
	for i, e := range all {
		walls[i] = namedWall{e.ID, e.Building, e.Name}
	}
	return findWall(walls, named)
}

func (t *localTarget) writeLists(ctx context.Context, site siteRef, q listQuery, lists []defects.SnagList, zone *time.Location, w io.Writer) error {
	switch q.format {
	case "csv":
		return report.WriteSnagCSV(w, lists, zone)
	case "json":
		return report.WriteSnagJSON(w, lists, zone)
	}
	buildings, err := t.reg.Buildings(ctx, operator(), site.id)
	if err != nil {
		return err
	}
	return report.WriteSnagGeoJSON(w, lists, buildings, zone)
}

// makeSite makes a site when the folder has none of that name.
func (t *localTarget) makeSite(ctx context.Context, name, zone string) error {
	_, err := t.reg.FindSite(ctx, operator(), name)
	if err == nil || !errors.Is(err, defects.NotFound) {
		return err
	}
	_, err = t.reg.CreateSite(ctx, operator(), register.NewSite{Name: name, TimeZone: zone, Schedules: []string{defaultSchedule}})
	return err
}
