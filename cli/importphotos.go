package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"storeyrod/defects"
	"storeyrod/imaging"
)

const mostAtOnce = 64

func importPhotosCommand(env func(string) string) *cobra.Command {
	i := importing{env: env}
	var o photoOptions
	cmd := &cobra.Command{
		Use:   "photos DIR",
		Short: "Take in a folder of photos",
		Long: `Takes in every file of a folder and the folders in it, but hidden ones. Links that
lead out of the folder are not followed. Originals are kept as they are; view
copies are made by the server. Files that are no photos and do not end like one
are skipped and counted.

The same bytes are one photo however often they come, so an interrupted import is
simply run again: what the site has already is told by its SHA-256 and not sent a
second time, and of a large photo on its way to a server only what is missing is
sent. What was refused is counted by reason at the end and listed, the
first ` + strconv.Itoa(mostListed) + ` of it; --report writes a line for every file as it is dealt with:
file, result (taken, known, refused, skipped), code, reason, photo.

With --watch the folder is looked at every two seconds until the program is
stopped: a file is taken once it has stopped growing.`,
		Example: "  storeyrod import photos ./DCIM --site \"Quarry Court\"\n" +
			"  storeyrod import photos ./DCIM --site \"Quarry Court\" --server https://storeyrod.example --report result.csv",
		Args: exactly(1, "one folder"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if o.jobs < 0 || o.jobs > mostAtOnce {
				return usagef("--jobs is a number of photos from 1 to %d, or 0 to choose by the machine", mostAtOnce)
			}
			o.folder = args[0]
			return i.run(cmd, "photos", func(ctx context.Context, t target, site siteRef) (tally, error) {
				return runPhotoImport(ctx, cmd.ErrOrStderr(), t, site.id, o)
			})
		},
	}
	i.flags(cmd)
	f := cmd.Flags()
	f.BoolVar(&o.watch, "watch", false, "go on taking in what appears in the folder, until stopped")
	f.IntVar(&o.jobs, "jobs", 0, "photos at once; 0 chooses by processors, or 4 for a server")
	f.StringVar(&o.report, "report", "", "file for a CSV line about every file")
	return cmd
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
