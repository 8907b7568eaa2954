package cli

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"

	"github.com/spf13/cobra"
	"golang.org/x/sync/errgroup"

	"storeyrod/defects"
	"storeyrod/imaging"
)

const photosAtOnce = 2

func importPhotosCommand(env func(string) string) *cobra.Command {
	i := importing{env: env}
	var watch bool
	cmd := &cobra.Command{
		Use:   "photos DIR",
		Short: "Take in a folder of photos",
		Long: `Takes in every file of a folder and the folders in it, but hidden ones. Links that
lead out of the folder are not followed. The same bytes are one photo however
often they come, so an interrupted import is simply run again. Originals are kept
as they are; view copies are made by the server. Files that are no photos and do
not end like one are skipped and counted.

With --watch the folder is looked at every two seconds until the program is
stopped: a file is taken once it has stopped growing.`,
		Example: "  storeyrod import photos ./DCIM --site \"Quarry Court\"",
		Args:    exactly(1, "one folder"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return i.run(cmd, "photos", func(ctx context.Context, t target, site siteRef) (tally, error) {
				if watch {
					return watchPhotos(ctx, cmd.ErrOrStderr(), t, site.id, args[0])
				}
				return importPhotos(ctx, cmd.ErrOrStderr(), t, site.id, args[0])
			})
		},
	}
	i.flags(cmd)
	cmd.Flags().BoolVar(&watch, "watch", false, "go on taking in what appears in the folder, until stopped")
	return cmd
}

// photoImport is one run over a folder.
type photoImport struct {
	to   target
	site string
	root *os.Root
	tick *ticker
	sole bool // one file was named, so it is meant

	mu  sync.Mutex
	sum tally
}

func importPhotos(ctx context.Context, progress io.Writer, to target, site, folder string) (tally, error) {
	root, names, err := filesOf(folder)
	if err != nil {
		return tally{}, err
	}
	defer root.Close()
	p := &photoImport{to: to, site: site, root: root, tick: newTicker(progress, "photos", len(names)), sole: isFile(folder)}
	work, workCtx := errgroup.WithContext(ctx)
	work.SetLimit(photosAtOnce)
	for _, name := range names {
		if workCtx.Err() != nil {
			break
		}
		work.Go(func() error { return p.one(workCtx, name) })
	}
	err = work.Wait()
	p.tick.end()
	slices.SortFunc(p.sum.refused, func(a, b refusal) int { return cmp.Compare(a.item, b.item) })
	if err == nil {
		err = ctx.Err()
	}
	return p.sum, err
}

// filesOf lists the files of a folder, or a single file, by their names below
// the root that is opened for them. Nothing outside the root can be read
// through it.
func filesOf(folder string) (*os.Root, []string, error) {
	info, err := os.Stat(folder)
	if err != nil {
		return nil, nil, fmt.Errorf("%s: %w", folder, fileError(err))
	}
	dir, single := folder, ""
	if !info.IsDir() {
		dir, single = filepath.Dir(folder), filepath.Base(folder)
	}
	root, err := os.OpenRoot(dir)
	if err != nil {
		return nil, nil, fmt.Errorf("%s: %w", folder, fileError(err))
	}
	if single != "" {
		return root, []string{single}, nil
	}
	var names []string
	err = fs.WalkDir(root.FS(), ".", func(name string, e fs.DirEntry, err error) error {
		switch {
		case name == ".":
			return err
		case strings.HasPrefix(e.Name(), "."):
			if e.IsDir() {
				return fs.SkipDir
			}
			return nil
		case err != nil:
			return fmt.Errorf("%s: %w", name, fileError(err))
		case !e.IsDir():
			names = append(names, name)
		}
		return nil
	})
	if err != nil {
		return nil, nil, errors.Join(err, root.Close())
	}
	return root, names, nil
}

// one takes a file in. A refusal is counted; an error ends the run, since the
// next file would meet it too.
func (p *photoImport) one(ctx context.Context, name string) error {
	known, err := p.take(ctx, name)
	var refused *defects.Error
	if errors.As(err, &refused) && !endsAll(refused) {
		err = nil
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	switch {
	case err != nil:
		return fmt.Errorf("%s: %w", name, err)
	case refused != nil && refused.Code == codeSkipped:
		if p.sum.skipped == nil {
			p.sum.skipped = map[string]int{}
		}
		p.sum.skipped[ending(name)]++
	case refused != nil:
		p.sum.refused = append(p.sum.refused, refusal{name, refused.CodeOrKind(), refused.Error()})
	case known:
		p.sum.known++
	default:
		p.sum.taken++
	}
	p.tick.one()
	return nil
}

// endsAll reports a refusal that every other file would meet as well.
func endsAll(e *defects.Error) bool {
	switch e.Kind {
	case defects.Unauthenticated, defects.Forbidden, defects.NotFound, defects.Unavailable:
		return true
	}
	return false
}

func (p *photoImport) take(ctx context.Context, name string) (known bool, err error) {
	info, err := p.root.Stat(name)
	if err != nil {
		return false, unreadable(err)
	}
	if !info.Mode().IsRegular() {
		return false, defects.Refuse(defects.Invalid, "not_a_file", "is not a plain file")
	}
	f, err := p.root.Open(name)
	if err != nil {
		return false, unreadable(err)
	}
	defer f.Close()
	if !p.sole && !endsLikePhoto(name) {
		if err := looksLikePhoto(f); err != nil {
			return false, err
		}
	}
	return p.to.photo(ctx, p.site, filepath.Base(name), f)
}

// codeSkipped marks a file that is no photo and does not claim to be one.
const codeSkipped = "skipped"

// looksLikePhoto skips a file by its first bytes, before it is sent anywhere.
func looksLikePhoto(f *os.File) error {
	head := make([]byte, imaging.SniffLen)
	n, err := io.ReadFull(f, head)
	if err != nil && !errors.Is(err, io.EOF) && !errors.Is(err, io.ErrUnexpectedEOF) {
		return unreadable(err)
	}
	if _, err := imaging.Sniff(head[:n]); err != nil {
		return defects.Refuse(defects.UnsupportedType, codeSkipped, "is no photo")
	}
	if _, err := f.Seek(0, io.SeekStart); err != nil {
		return unreadable(err)
	}
	return nil
}

// endsLikePhoto reports a name that promises a photo, so that a file that is
// none is a fault and not passed over.
func endsLikePhoto(name string) bool {
	switch strings.ToLower(filepath.Ext(name)) {
	case ".jpg", ".jpeg", ".jpe", ".png", ".webp", ".heic", ".heif", ".hif":
		return true
	}
	return false
}

func ending(name string) string {
	return fallback(strings.ToLower(filepath.Ext(name)), "without ending")
}

func isFile(name string) bool {
	info, err := os.Stat(name)
	return err == nil && !info.IsDir()
}

// unreadable is a refusal of one file, such as a link that leads out of the
// folder.
func unreadable(err error) error {
	return &defects.Error{Kind: defects.Invalid, Code: "unreadable", Text: "cannot be read: " + fileError(err).Error(), Err: err}
}
