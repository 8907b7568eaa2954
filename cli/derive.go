package cli

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"

	"github.com/spf13/cobra"
	"golang.org/x/sync/errgroup"

	"storeyrod/defects"
	"storeyrod/imaging"
)

func deriveCommand() *cobra.Command {
	var out string
	var jobs int
	cmd := &cobra.Command{
		Use:   "derive FILE… --out DIR",
		Short: "Make view copies of photos: a preview and a thumbnail",
		Long: `Writes two JPEGs for each photo into a folder: NAME.preview.jpg, whose long edge has
at most 2048 pixels, and NAME.thumb.jpg with at most 320. NAME is the file's name
without its last ending. The copies stand upright and carry no metadata, so neither
place nor time nor camera; the colour profile is kept. Nothing is enlarged.

Copies of an earlier run are replaced, each whole or not at all. No photo that is
read is ever written over. Of two photos that would have copies of one name the
first is made and the other refused; so is a folder, since the photos in it may
bear names that come twice. Each refusal is told with its reason, the others are
still made, and the exit code is then 1.`,
		Example: "  storeyrod derive IMG_0412.jpg IMG_0413.heic --out ./copies\n  storeyrod derive --jobs 1 photos/*.jpg --out ./copies",
		Args:    atLeastOne("photo"),
		RunE: func(cmd *cobra.Command, args []string) error {
			switch {
			case out == "":
				return usagef("--out says into which folder")
			case jobs < 0:
				return usagef("--jobs is a number of photos from 1, or 0 to choose by the machine")
			}
			return runDerive(cmd, args, out, jobs)
		},
	}
	cmd.Flags().StringVar(&out, "out", "", "folder to write to, made when missing")
	cmd.Flags().IntVar(&jobs, "jobs", 0, "photos at once; 0 chooses by processors and free memory")
	return cmd
}

// deriving is one run over many photos.
type deriving struct {
	out    string
	inputs []os.FileInfo // what must not be written over
	pool   *imaging.Pool
	hevc   imaging.OpenHEVC
	stderr io.Writer

	mu    sync.Mutex
	done  int
	bad   int
	names map[string]string // name of the copies, folded: the photo that has it
}

func runDerive(cmd *cobra.Command, files []string, out string, jobs int) error {
	if err := os.MkdirAll(out, folderMode); err != nil {
		return fmt.Errorf("%s: %w", out, fileError(err))
	}
	if jobs == 0 {
		jobs = runtime.GOMAXPROCS(0)
	}
	d := &deriving{out: out, pool: imaging.NewPool(poolPixels(jobs)), hevc: heicDecoder(), stderr: cmd.ErrOrStderr(), names: map[string]string{}}
	for _, name := range files {
		if info, err := os.Stat(name); err == nil {
			d.inputs = append(d.inputs, info)
		}
	}
	work, ctx := errgroup.WithContext(cmd.Context())
	work.SetLimit(jobs)
	for _, name := range files {
		copies, err := d.claim(name)
		if err != nil {
			d.refuse(name, err)
			continue
		}
		if ctx.Err() != nil {
			break
		}
		work.Go(func() error { return d.one(ctx, name, copies) })
	}
	if err := errors.Join(work.Wait(), cmd.Context().Err()); err != nil {
		return err
	}
	fmt.Fprintf(cmd.OutOrStdout(), "%-8s %6d photos\n%-8s %6d\n", "made", d.done, "refused", d.bad)
	if d.bad > 0 {
		return &refusedError{fmt.Sprintf("%d of %d refused", d.bad, len(files))}
	}
	return nil
}

// claim gives a photo the name of its copies, for the first that asks. Names
// that differ in capitals only are one, as on many disks.
func (d *deriving) claim(name string) (copies string, err error) {
	if err := plainFile(name); err != nil {
		return "", err
	}
	base := filepath.Base(name)
	copies = strings.TrimSuffix(base, filepath.Ext(base))
	if copies == "" { // ".jpg" has a name and no ending
		copies = base
	}
	folded := strings.ToLower(copies)
	if first, taken := d.names[folded]; taken {
		return "", defects.Refuse(defects.Conflict, "name_taken",
			fmt.Sprintf("%s has copies called %s already; derive it into another folder", first, copies))
	}
	d.names[folded] = name
	return copies, nil
}

// one makes the copies of one photo. A refusal is told and counted; an error
// ends the run.
func (d *deriving) one(ctx context.Context, name, copies string) error {
	err := d.derive(ctx, name, copies)
	var refused *defects.Error
	switch {
	case err == nil:
		d.mu.Lock()
		d.done++
		d.mu.Unlock()
	case errors.As(err, &refused):
		d.refuse(name, refused)
	default:
		return fmt.Errorf("%s: %w", name, err)
	}
	return nil
}

func (d *deriving) refuse(name string, err error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.bad++
	fmt.Fprintf(d.stderr, "storeyrod: %s: %s\n", name, describe(err))
}

func (d *deriving) derive(ctx context.Context, name, copies string) error {
	preview := filepath.Join(d.out, copies+".preview.jpg")
	thumb := filepath.Join(d.out, copies+".thumb.jpg")
	if err := d.free(preview, thumb); err != nil {
		return err
	}
	f, err := os.Open(name)
	if err != nil {
		return unreadable(err)
	}
	defer f.Close()
	head, err := imaging.CheckHeader(f, imaging.DefaultLimits())
	if err != nil {
		return err
	}
	capture, _, err := imaging.ReadCapture(f, imaging.DefaultLimits())
	if err != nil {
		return err
	}
	return d.pool.Do(ctx, head.Weight(), func() error {
		made, err := imaging.Derive(ctx, f, capture, imaging.DeriveOptions{HEVC: d.hevc})
		if err != nil {
			return err
		}
		return errors.Join(writeCopy(preview, made.Preview), writeCopy(thumb, made.Thumb))
	})
}

// free refuses to write over a photo that is itself read in this run.
func (d *deriving) free(outputs ...string) error {
	for _, output := range outputs {
		there, err := os.Lstat(output)
		if err != nil {
			continue
		}
		for _, input := range d.inputs {
			if os.SameFile(there, input) {
				return defects.Refuse(defects.Conflict, "would_overwrite",
					"its copy would be written over "+output+", which is a photo to read")
			}
		}
	}
	return nil
}

func writeCopy(name string, p imaging.Picture) error {
	return writeOut(nil, name, func(w io.Writer) error {
		if _, err := io.Copy(w, bytes.NewReader(p.JPEG)); err != nil {
			return fmt.Errorf("%s: %w", name, fileError(err))
		}
		return nil
	})
}

// plainFile refuses what holds no photo, before opening it, which may wait for
// ever on what is no file.
func plainFile(name string) error {
	info, err := os.Stat(name)
	switch {
	case err != nil:
		return unreadable(err)
	case info.IsDir():
		return defects.Refuse(defects.Invalid, "not_a_file", "is a folder; name the photos in it")
	case !info.Mode().IsRegular():
		return defects.Refuse(defects.Invalid, "not_a_file", "is not a plain file")
	}
	return nil
}
