package server

import (
	"context"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

// alikeOut is what is possibly the same picture as a photo.
type alikeOut struct {
	Body struct {
		Known bool         `json:"known" doc:"false while the photo's own likeness is not made"`
		Items []AlikePhoto `json:"items" doc:"the nearest first; a person decides what it means"`
	}
}

// AlikePhoto is a photo that is possibly the same picture as another.
type AlikePhoto struct {
	Photo
	Bits int `json:"bits" doc:"of 64 in which the likenesses differ, at most 10"`
}

// togetherOut is what came of placing photos with their neighbours.
type togetherOut struct {
	Body struct {
		Looked  int      `json:"looked"`
		Placed  []string `json:"placed" doc:"photos that had no place and have one now"`
		Doubted []string `json:"doubted" doc:"photos that the program placed where they unlikely belong; they stay there until a person chooses"`
	}
}

func same(id string) string { return id }

// photoWork adds what is asked about the work on photos: another try at view
// copies, what is alike, and how it goes on.
func (a *api) photoWork() {
	retry := withAnswer(post("/sites/{site}/photos/{photo}/retry",
		"Try again to make the view copies of a photo that has none"), "200", "application/json")
	handle(a, retry, may(defects.PlacePhoto), func(ctx context.Context, in *PhotoIn) (*photoOut, error) {
		p, err := a.s.reg.RetryCopies(ctx, actorFrom(ctx), in.Site, in.ID)
		return &photoOut{ETag: etag(p.Version), Body: photoOf(p)}, err
	})
	together := withAnswer(post("/sites/{site}/photos/place-together",
		"Place the newest photos without a place, each with those the same phone took before and after it"), "200", "application/json")
	handle(a, together, may(defects.PlacePhoto), func(ctx context.Context, in *SiteIn) (*togetherOut, error) {
		got, err := a.s.reg.PlaceTogether(ctx, actorFrom(ctx), in.Site)
		out := &togetherOut{}
		out.Body.Looked, out.Body.Placed, out.Body.Doubted = got.Looked, each(got.Placed, same), each(got.Doubted, same)
		return out, err
	})
	handle(a, get("/sites/{site}/photos/{photo}/alike", "Photos of the site that are possibly the same picture"), may(defects.ViewSite),
		func(ctx context.Context, in *PhotoIn) (*alikeOut, error) {
			alike, err := a.s.reg.Alike(ctx, actorFrom(ctx), in.Site, in.ID)
			out := &alikeOut{}
			out.Body.Known = alike.Known
			out.Body.Items = each(alike.Items, func(p register.AlikePhoto) AlikePhoto { return AlikePhoto{Photo: photoOf(p.Photo), Bits: p.Bits} })
			return out, err
		})
	events := withParams(withAnswer(get("/sites/{site}/photos/events",
		"How view copies go on, as server-sent events: taken, ready, failed, with the photo's id as data; "+
			"an id sent back as Last-Event-ID goes on from there"), "200", "text/event-stream"),
		"after: view_copies_seq to go on from; without it the stream begins now")
	a.stream(events, may(defects.ViewSite), a.s.streamPhotos)
}
