package cli

import (
	"context"
	"os"
	"time"

	"storeyrod/defects"
)

// watchEvery is how often a watched folder is looked at.
const watchEvery = 2 * time.Second

// fileState is what tells that a file has changed.
type fileState struct {
	size int64
	at   time.Time
}

// watch takes in what lies in a folder and what appears in it, until the context
// ends, which is no fault here. A file is taken when two looks found it alike,
// and again when it changes later. Nothing is remembered beyond the run: known
// bytes are known to the site.
func (p *photoImport) watch(ctx context.Context, folder string) error {
	if p.sole {
		return defects.RefuseField(defects.Invalid, "watch", "not_a_folder", "a folder is watched, not a file")
	}
	before, done := map[string]fileState{}, map[string]fileState{}
	timer := time.NewTicker(watchEvery)
	defer timer.Stop()
	for {
		if err := p.look(ctx, folder, before, done); err != nil && ctx.Err() == nil {
			return err
		}
		select {
		case <-ctx.Done():
			return nil
		case <-timer.C:
		}
	}
}

// look takes in the files that are as they were at the look before.
func (p *photoImport) look(ctx context.Context, folder string, before, done map[string]fileState) error {
	root, names, err := filesOf(folder)
	if err != nil {
		return err
	}
	defer root.Close()
	p.root = root
	ready := settled(root, names, before, done)
	if err := p.all(ctx, ready); err != nil {
		return err
	}
	for _, name := range ready {
		done[name] = before[name]
	}
	return nil
}

// settled are the files that have not changed since the last look and were not
// taken as they are.
func settled(root *os.Root, names []string, before, done map[string]fileState) (ready []string) {
	for _, name := range names {
		info, err := root.Lstat(name)
		if err != nil {
			continue // gone since it was listed
		}
		now := fileState{info.Size(), info.ModTime()}
		was, seen := before[name]
		before[name] = now
		if seen && was == now && done[name] != now {
			ready = append(ready, name)
		}
	}
	return ready
}
