package cli

import (
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"sync"

	"golang.org/x/sync/errgroup"

	"storeyrod/defects"
)

const (
	// mostListed is how many refused files are listed one by one.
	mostListed = 100
	// filesAsked is how many files are hashed before the site is asked which of
	// them it has. What one worker reads twice should still be in memory the
	// second time.
	filesAsked = 32
)

// photoOptions is how a folder of photos is to be taken in.
type photoOptions struct {
	folder string
	report string // file for a line about every file; "" = none
	watch  bool
	jobs   int // photos at once; 0 = as the target likes it
}

// photoImport is one run over a folder.
type photoImport struct {
	to   target
	site string
	root *os.Root
	tick *ticker
	sole bool // one file was named, so it is meant
	jobs int

	mu     sync.Mutex
	sum    tally
	report *photoReport
}

func runPhotoImport(ctx context.Context, progress io.Writer, to target, site string, o photoOptions) (sum tally, err error) {
	p := &photoImport{to: to, site: site, sole: isFile(o.folder), jobs: o.jobs, tick: newTicker(progress, "photos", 0)}
	p.sum.most = mostListed
	if p.jobs == 0 {
		p.jobs = to.atOnce()
	}
	if o.report != "" {
		if p.report, err = newPhotoReport(o.report); err != nil {
			return tally{}, err
		}
		defer func() { err = errors.Join(err, p.report.close()) }()
	}
	if o.watch {
		err = p.watch(ctx, o.folder)
	} else {
		err = p.whole(ctx, o.folder)
	}
	p.tick.end()
	slices.SortFunc(p.sum.refused, func(a, b refusal) int { return cmp.Compare(a.item, b.item) })
	return p.sum, err
}

// whole takes in a folder once.
func (p *photoImport) whole(ctx context.Context, folder string) error {
	root, names, err := filesOf(folder)
	if err != nil {
		return err
	}
	defer root.Close()
	p.root = root
	p.tick.total = len(names)
	return errors.Join(p.all(ctx, names), ctx.Err())
}

// all takes in files of the open folder, several at once.
func (p *photoImport) all(ctx context.Context, names []string) error {
	work, workCtx := errgroup.WithContext(ctx)
	work.SetLimit(p.jobs)
	for part := range slices.Chunk(names, min(max(len(names)/p.jobs, 1), filesAsked)) {
		if workCtx.Err() != nil {
			break
		}
		work.Go(func() error { return p.some(workCtx, part) })
	}
	return work.Wait()
}

// some asks the site which of the files it has, and sends it the others.
func (p *photoImport) some(ctx context.Context, names []string) error {
	shas := make(map[string]string, len(names)) // by name
	for _, name := range names {
		if err := ctx.Err(); err != nil {
			return err
		}
		sha, err := p.hash(ctx, name)
		if err != nil {
			if err := p.settle(name, photoAnswer{}, err); err != nil {
				return err
			}
			continue
		}
		shas[name] = sha
	}
	ids, err := p.known(ctx, shas)
	if err != nil {
		return err
	}
	for _, name := range names {
		sha, ok := shas[name]
		if !ok {
			continue
		}
		answer := photoAnswer{id: ids[sha], known: true}
		if answer.id == "" {
			answer, err = p.send(ctx, name)
		}
		if err := p.settle(name, answer, err); err != nil {
			return err
		}
	}
	return nil
}

func (p *photoImport) known(ctx context.Context, shas map[string]string) (map[string]string, error) {
	if len(shas) == 0 {
		return nil, nil
	}
	asked := make([]string, 0, len(shas))
	for _, sha := range shas {
		asked = append(asked, sha)
	}
	slices.Sort(asked)
	return p.to.photosByHash(ctx, p.site, slices.Compact(asked))
}

// settle counts what became of a file. A refusal is counted; an error ends the
// run, since the next file would meet it too.
func (p *photoImport) settle(name string, answer photoAnswer, err error) error {
	var refused *defects.Error
	if errors.As(err, &refused) && !endsAll(refused) {
		err = nil
	}
	if err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	result := "taken"
	switch {
	case refused != nil && refused.Code == codeSkipped:
		if p.sum.skipped == nil {
			p.sum.skipped = map[string]int{}
		}
		p.sum.skipped[ending(name)]++
		result = "skipped"
	case refused != nil:
		p.sum.refused = append(p.sum.refused, refusal{name, refused.CodeOrKind(), refused.Error()})
		result = "refused"
	case answer.known:
		p.sum.known++
		result = "known"
	default:
		p.sum.taken++
	}
	p.tick.one()
	return p.report.line(name, result, refused, answer.id)
}

// endsAll reports a refusal that every other file would meet as well.
func endsAll(e *defects.Error) bool {
	switch e.Kind {
	case defects.Unauthenticated, defects.Forbidden, defects.NotFound, defects.Unavailable:
		return true
	}
	return false
}

// open opens a file of the folder that is meant as a photo.
func (p *photoImport) open(name string) (*os.File, error) {
	info, err := p.root.Stat(name)
	if err != nil {
		return nil, unreadable(err)
	}
	if !info.Mode().IsRegular() {
		return nil, defects.Refuse(defects.Invalid, "not_a_file", "is not a plain file")
	}
	f, err := p.root.Open(name)
	if err != nil {
		return nil, unreadable(err)
	}
	if !p.sole && !endsLikePhoto(name) {
		if err := looksLikePhoto(f); err != nil {
			return nil, errors.Join(err, f.Close())
		}
	}
	return f, nil
}

// hash reads a file through, if it is a photo by name or by its first bytes.
func (p *photoImport) hash(ctx context.Context, name string) (string, error) {
	f, err := p.open(name)
	if err != nil {
		return "", err
	}
	defer f.Close()
	sum := sha256.New()
	if _, err := io.Copy(sum, stopping{ctx, f}); err != nil {
		if ctx.Err() != nil {
			return "", ctx.Err()
		}
		return "", unreadable(err)
	}
	return hex.EncodeToString(sum.Sum(nil)), nil
}

func (p *photoImport) send(ctx context.Context, name string) (photoAnswer, error) {
	f, err := p.open(name)
	if err != nil {
		return photoAnswer{}, err
	}
	defer f.Close()
	return p.to.photo(ctx, p.site, filepath.Base(name), f)
}

// stopping is a reader that ends with its context.
type stopping struct {
	ctx context.Context
	r   io.Reader
}

func (s stopping) Read(b []byte) (int, error) {
	if err := s.ctx.Err(); err != nil {
		return 0, err
	}
	return s.r.Read(b)
}
