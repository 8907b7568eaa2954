package server

import (
	"context"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

// Storage is what a site's photos take and may take.
type Storage struct {
	Photos   int64  `json:"photo_bytes" doc:"of the originals"`
	Reserved int64  `json:"reserved_bytes" doc:"full lengths of unfinished uploads"`
	Quota    int64  `json:"quota_bytes" doc:"0 = no limit"`
	From     string `json:"quota_from" enum:"site,instance" doc:"instance: the site has none of its own"`
	Version  int    `json:"version" doc:"of the site"`
}

type storageOut struct {
	ETag string `header:"ETag"`
	Body Storage
}

type storageIn struct {
	SiteIn
	Changed
	Body struct {
		Quota *int64 `json:"quota_bytes" minimum:"0" nullable:"true" required:"true" doc:"0 = no limit, null = as for the whole instance"`
	}
}

func (a *api) storage() {
	const path = "/sites/{site}/storage"
	handle(a, get(path, "What the site's photos take and may take"), may(defects.ViewSite), func(ctx context.Context, in *SiteIn) (*storageOut, error) {
		return a.storageAnswer(ctx, in.Site)
	})
	put := get(path, "Set how much the site's photos may take; what is over it is refused with the code quota_full")
	put.Method = "PUT"
	handle(a, put, may(defects.SetQuota), func(ctx context.Context, in *storageIn) (*storageOut, error) {
		version, err := ifMatch(in.IfMatch)
		if err != nil {
			return nil, err
		}
		quota := int64(-1)
		if in.Body.Quota != nil {
			quota = *in.Body.Quota
		}
		if _, err := a.s.reg.UpdateSite(ctx, actorFrom(ctx), in.Site, version, register.SitePatch{PhotoQuota: &quota}); err != nil {
			return nil, err
		}
		return a.storageAnswer(ctx, in.Site)
	})
}

func (a *api) storageAnswer(ctx context.Context, site string) (*storageOut, error) {
	s, err := a.s.reg.Storage(ctx, actorFrom(ctx), site)
	if err != nil {
		return nil, err
	}
	out := Storage{Photos: s.Photos, Reserved: s.Reserved, Quota: s.Quota, From: "instance", Version: s.Version}
	if s.Own {
		out.From = "site"
	}
	return &storageOut{ETag: etag(s.Version), Body: out}, nil
}
