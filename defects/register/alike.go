package register

import (
	"cmp"
	"context"
	"slices"
	"sync"

	"storeyrod/defects"
)

const (
	mostAlike   = 4_000_000 // photos kept in memory over all sites, at 16 bytes each
	alikeBatch  = 20_000    // rows read at once while an index is built
	mostHits    = 200       // nearest photos that are looked up
	alikeAnswer = 20        // photos that a person is shown
)

// alikeIndex keeps the likenesses of sites in memory, each read from the database
// when it is first asked for and brought up to date at every question. A plain
// scan is fast enough: a million comparisons take about a millisecond.
type alikeIndex struct {
	most  int
	mu    sync.Mutex
	sites map[string]*siteAlike
	uses  int64
}

// siteAlike is one site's photos in the order of their numbers. A photo whose
// copies changed stands in it twice; the old number finds no photo.
type siteAlike struct {
	mu   sync.RWMutex
	bits []uint64
	seqs []int64
	used int64 // guarded by alikeIndex.mu, as is size
	size int
}

func newAlikeIndex(most int) *alikeIndex {
	return &alikeIndex{most: most, sites: map[string]*siteAlike{}}
}

// hit is a photo by its number, and how far it is from what was asked for.
type hit struct {
	seq  int64
	bits int
}

// near gives the photos of a site within so many bits, the nearest first.
func (x *alikeIndex) near(ctx context.Context, tx Tx, siteID string, likeness uint64, within int) ([]hit, error) {
	site := x.site(siteID)
	size, err := site.refresh(ctx, tx, siteID)
	if err != nil {
		return nil, err
	}
	x.keep(siteID, site, size)
	hits := site.near(likeness, within)
	slices.SortFunc(hits, func(a, b hit) int { return cmp.Or(cmp.Compare(a.bits, b.bits), cmp.Compare(b.seq, a.seq)) })
	return hits[:min(len(hits), mostHits)], nil
}

func (x *alikeIndex) site(siteID string) *siteAlike {
	x.mu.Lock()
	defer x.mu.Unlock()
	site := x.sites[siteID]
	if site == nil {
		site = &siteAlike{}
		x.sites[siteID] = site
	}
	x.uses++
	site.used = x.uses
	return site
}

// keep notes the size of a site and forgets others, the longest unused first,
// while there is too much.
func (x *alikeIndex) keep(siteID string, site *siteAlike, size int) {
	x.mu.Lock()
	defer x.mu.Unlock()
	site.size = size
	total := 0
	for _, s := range x.sites {
		total += s.size
	}
	for total > x.most && len(x.sites) > 1 {
		oldest := ""
		for id, s := range x.sites {
			if id != siteID && (oldest == "" || s.used < x.sites[oldest].used) {
				oldest = id
			}
		}
		total -= x.sites[oldest].size
		delete(x.sites, oldest)
	}
}

// refresh reads what the database has beyond the last number known. Numbers rise
// in the order of the commits, so nothing comes in below it later.
func (s *siteAlike) refresh(ctx context.Context, tx Tx, siteID string) (size int, err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for {
		last := int64(0)
		if n := len(s.seqs); n > 0 {
			last = s.seqs[n-1]
		}
		news, err := tx.Copies().Likenesses(ctx, siteID, last, alikeBatch)
		if err != nil {
			return 0, err
		}
		for _, l := range news {
			s.seqs, s.bits = append(s.seqs, l.Seq), append(s.bits, l.Bits)
		}
		if len(news) < alikeBatch {
			return len(s.seqs), nil
		}
	}
}

func (s *siteAlike) near(likeness uint64, within int) (hits []hit) {
	s.mu.RLock()
	defer s.mu.RUnlock()
	for i, b := range s.bits {
		if d := defects.LikenessBits(b, likeness); d <= within {
			hits = append(hits, hit{s.seqs[i], d})
		}
	}
	return hits
}

// AlikePhoto is a photo that is possibly the same picture as another.
type AlikePhoto struct {
	Photo defects.Photo
	Bits  int // that differ, of 64
}

// AlikePhotos lists the photos of the site that are possibly the same picture as
// one, the nearest first. Known is false while that one's likeness is not made.
type AlikePhotos struct {
	Known bool
	Items []AlikePhoto
}

// Alike finds what is possibly the same picture as a photo. A person decides what
// it means; an operative is shown what he may see.
func (r *Register) Alike(ctx context.Context, a Actor, siteID, photoID string) (out AlikePhotos, err error) {
	err = r.Store.Read(ctx, func(tx Tx) error {
		m, p, err := r.seenPhoto(ctx, tx, a, siteID, photoID)
		if err != nil || p.Likeness == nil {
			return err
		}
		out.Known = true
		out.Items, err = r.photosAlike(ctx, tx, m, p)
		out.Items = out.Items[:min(len(out.Items), alikeAnswer)]
		return err
	})
	if err != nil {
		return AlikePhotos{}, err
	}
	return out, nil
}

// photosAlike looks the hits up, as a member may see them.
func (r *Register) photosAlike(ctx context.Context, tx Tx, m defects.Membership, p defects.Photo) ([]AlikePhoto, error) {
	hits, err := r.alike.near(ctx, tx, p.SiteID, *p.Likeness, defects.PossiblySame)
	if err != nil {
		return nil, err
	}
	seqs := make([]int64, len(hits))
	for i, h := range hits {
		seqs[i] = h.seq
	}
	photos, err := tx.Copies().PhotosAt(ctx, p.SiteID, seqs)
	if err != nil {
		return nil, err
	}
	if photos, err = photosSeen(ctx, tx, m, photos); err != nil {
		return nil, err
	}
	var out []AlikePhoto
	for _, other := range photos {
		if other.ID != p.ID && other.Likeness != nil {
			out = append(out, AlikePhoto{Photo: other, Bits: defects.LikenessBits(*p.Likeness, *other.Likeness)})
		}
	}
	slices.SortFunc(out, func(a, b AlikePhoto) int {
		return cmp.Or(cmp.Compare(a.Bits, b.Bits), cmp.Compare(b.Photo.CopiesSeq, a.Photo.CopiesSeq))
	})
	return out, nil
}

// alikeEvidence looks whether photos of an offer are possibly the same pictures
// as earlier ones of the snag, or as evidence for other snags of the site.
func (r *Register) alikeEvidence(ctx context.Context, tx Tx, m defects.Membership, s defects.Snag, photos []defects.Photo) (out []defects.AlikeEvidence, err error) {
	if s.State != defects.Offered {
		return nil, nil
	}
	for _, p := range photos {
		if p.Likeness == nil || !slices.Contains(s.OfferPhotos, p.ID) {
			continue
		}
		alike, err := r.photosAlike(ctx, tx, m, p)
		if err != nil {
			return nil, err
		}
		ids := make([]string, len(alike))
		for i, other := range alike {
			ids[i] = other.Photo.ID
		}
		used, err := tx.Snags().EvidenceUse(ctx, s.SiteID, ids)
		if err != nil {
			return nil, err
		}
		for _, other := range alike {
			e := defects.AlikeEvidence{PhotoID: p.ID, OtherID: other.Photo.ID, Bits: other.Bits}
			e.UsedBy = slices.DeleteFunc(slices.Clone(used[other.Photo.ID]), func(n int) bool { return n == s.Number })
			e.Before = slices.Contains(s.Photos, e.OtherID) && !slices.Contains(s.OfferPhotos, e.OtherID)
			if e.Before || len(e.UsedBy) > 0 {
				out = append(out, e)
			}
		}
	}
	return out, nil
}
