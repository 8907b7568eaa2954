package cli

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"strings"

	"storeyrod/defects"
)

func (c *client) site(ctx context.Context, idOrName string) (siteRef, error) {
	var answer struct {
		Items []struct {
			ID   string `json:"id"`
			Name string `json:"name"`
			Zone string `json:"time_zone"`
		} `json:"items"`
	}
	if err := c.get(ctx, "/sites", &answer); err != nil {
		return siteRef{}, err
	}
	var found []siteRef
	for _, s := range answer.Items {
		ref := siteRef{s.ID, s.Name, s.Zone}
		if s.ID == idOrName || s.Name == idOrName {
			return ref, nil
		}
		if strings.EqualFold(s.Name, strings.TrimSpace(idOrName)) {
			found = append(found, ref)
		}
	}
	switch len(found) {
	case 1:
		return found[0], nil
	case 0:
		return siteRef{}, defects.RefuseField(defects.NotFound, "site", "site_not_found", "no such site, or you do not belong to it")
	}
	return siteRef{}, defects.RefuseField(defects.Conflict, "site", "site_ambiguous", fmt.Sprintf("%d sites have this name; give the id", len(found)))
}

func (c *client) photo(ctx context.Context, siteID, name string, body io.ReadSeeker) (photoAnswer, error) {
	size, err := body.Seek(0, io.SeekEnd)
	if err != nil {
		return photoAnswer{}, fmt.Errorf("read: %w", err)
	}
	if size > uploadAbove {
		return c.upload(ctx, siteID, name, body, size)
	}
	path := "/sites/" + url.PathEscape(siteID) + "/photos?name=" + url.QueryEscape(name)
	res, err := c.call(ctx, http.MethodPost, path, body, "application/octet-stream")
	if err != nil {
		return photoAnswer{}, err
	}
	known := res.StatusCode == http.StatusOK
	var answer struct {
		ID string `json:"id"`
	}
	err = readAnswer(res, &answer)
	return photoAnswer{answer.ID, known}, err
}

func (c *client) photosByHash(ctx context.Context, siteID string, shas []string) (map[string]string, error) {
	ask, err := json.Marshal(map[string][]string{"sha256": shas})
	if err != nil {
		return nil, err
	}
	var answer struct {
		Known []struct {
			SHA256 string `json:"sha256"`
			ID     string `json:"id"`
		} `json:"known"`
	}
	if err := c.post(ctx, "/sites/"+url.PathEscape(siteID)+"/photos/known", ask, "application/json", &answer); err != nil {
		return nil, err
	}
	ids := make(map[string]string, len(answer.Known))
	for _, k := range answer.Known {
		ids[k.SHA256] = k.ID
	}
	return ids, nil
}

// atOnce hides the way to the server and back without crowding a thin line.
func (c *client) atOnce() int { return clientAtOnce }

func (c *client) readings(ctx context.Context, siteID string, table []byte, tell func(int)) (tally, error) {
	var answer struct {
		Results []struct {
			Row     int  `json:"row"`
			Known   bool `json:"known"`
			Reading *struct {
				Verdict struct {
					Outcome defects.Outcome `json:"outcome"`
				} `json:"verdict"`
			} `json:"reading"`
			Problem *wireProblem `json:"problem"`
		} `json:"results"`
	}
	if err := c.post(ctx, "/sites/"+url.PathEscape(siteID)+"/readings", table, "text/csv", &answer); err != nil {
		return tally{}, err
	}
	out := tally{outcomes: map[defects.Outcome]int{}}
	for _, r := range answer.Results {
		switch {
		case r.Problem != nil && r.Row > 0:
			out.refused = append(out.refused, refusal{fmt.Sprintf("row %d", r.Row), r.Problem.Code, r.Problem.text()})
		case r.Problem != nil:
			out.refused = append(out.refused, refusal{r.Problem.Instance, r.Problem.Code, r.Problem.text()})
		case r.Known:
			out.known++
		case r.Reading != nil:
			out.taken++
			out.outcomes[r.Reading.Verdict.Outcome]++
		}
	}
	tell(len(answer.Results))
	return out, nil
}

func (c *client) buildings(ctx context.Context, siteID string, geojson []byte) (tally, error) {
	var answer struct {
		Taken      []string   `json:"taken"`
		Elevations []struct{} `json:"elevations"`
		Known      []string   `json:"known"`
		Notes      []string   `json:"notes"`
		Refused    []struct {
			Item string `json:"item"`
			Code string `json:"code"`
			Text string `json:"text"`
		} `json:"refused"`
	}
	if err := c.post(ctx, "/sites/"+url.PathEscape(siteID)+"/buildings", geojson, "application/geo+json", &answer); err != nil {
		return tally{}, err
	}
	out := tally{taken: len(answer.Taken), known: len(answer.Known), notes: answer.Notes}
	out.notes = append(out.notes, fmt.Sprintf("elevations: %d", len(answer.Elevations)))
	for _, r := range answer.Refused {
		out.refused = append(out.refused, refusal{r.Item, r.Code, r.Text})
	}
	return out, nil
}

func (c *client) snags(ctx context.Context, site siteRef, q listQuery, w io.Writer) (err error) {
	path := "/sites/" + url.PathEscape(site.id) + "/snag-lists"
	if q.elevation != "" {
		id, err := c.wall(ctx, site, q.elevation)
		if err != nil {
			return err
		}
		path = "/sites/" + url.PathEscape(site.id) + "/elevations/" + url.PathEscape(id) + "/snag-list"
	}
	query := url.Values{"format": {q.format}}
	if !q.open {
		query.Set("all", "true")
	}
	res, err := c.call(ctx, http.MethodGet, path+"?"+query.Encode(), nil, "")
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, res.Body.Close()) }()
	if _, err := io.Copy(w, res.Body); err != nil {
		return fmt.Errorf("read the server's answer: %w", err)
	}
	return nil
}

func (c *client) wall(ctx context.Context, site siteRef, named string) (string, error) {
	var answer struct {
		Items []struct {
			ID       string `json:"id"`
			Building string `json:"building"`
			Name     string `json:"name"`
		} `json:"items"`
	}
	if err := c.get(ctx, "/sites/"+url.PathEscape(site.id)+"/elevations", &answer); err != nil {
		return "", err
	}
	walls := make([]namedWall, len(answer.Items))
	for i, e := range answer.Items {
		walls[i] = namedWall{e.ID, e.Building, e.Name}
	}
	return findWall(walls, named)
}

var _ target = (*client)(nil)

var _ target = (*localTarget)(nil)
