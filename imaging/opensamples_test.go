package imaging_test

import (
	"crypto/sha256"
	"encoding/json"
	"errors"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"
)

// sampleModule is a module that carries open photos beside its code. The module
// tool checks what it fetches against the sum.
type sampleModule struct {
	short, path, version, sum string
	holds                     string // where the photos are from, and their licence
}

// sampleModules are fetched when a test asks for them and are no dependencies:
// nothing of their code is built.
func sampleModules() []sampleModule {
	return []sampleModule{
		{"barasher", "github.com/barasher/go-exiftool", "v1.10.0", "h1:f5JY5jc42M7tzR6tbL9508S2IXdIcG9QyieEXNMpIhs=", "test data, GPL-3.0"},
		{"bep", "github.com/bep/imagemeta", "v1.0.1", "h1:p8W9TcQraMbCbP3ubUPyVVEremktUV7LJm0O2t4jC9o=", "test data, MIT and as told in testdata/photos/README.md"},
		{"bimg", "github.com/h2non/bimg", "v1.1.9", "h1:WH20Nxko9l/HFm4kZCA3Phbgu2cbHvYzxwxn9YROEGg=", "test data, MIT"},
		{"disintegration", "github.com/disintegration/imaging", "v1.6.2", "h1:w1LecBlG2Lnp8B3jk5zSuNqd7b4DXhcjwek1ei82L+c=", "test data, MIT"},
		{"dsoprea", "github.com/dsoprea/go-exif/v3", "v3.0.1", "h1:/IE4iW7gvY7BablV1XY0unqhMv26EYpOquVMwoBo/wc=", "assets, MIT"},
		{"evanoberholster", "github.com/evanoberholster/imagemeta", "v0.3.1", "h1:E4GUjXcvlVMjP9joN25+bBNf3Al3MTTfMqCrDOCW+LE=", "test images, MIT"},
		{"gen2brain", "github.com/gen2brain/heic", "v0.4.5", "h1:Cq3hPu6wwlTJNv2t48ro3oWje54h82Q5pALeCBNgaSk=", "test data, LGPL-3.0"},
		{"goexif", "github.com/rwcarlsen/goexif", "v0.0.0-20190401172101-9e8deecbddbd", "h1:CmH9+J6ZSsIjUK3dcGsnCnO41eRBOnY12zwkn5qVwgc=", "samples, BSD 2-Clause"},
		{"govips", "github.com/davidbyttow/govips/v2", "v2.16.0", "h1:1nH/Rbx8qZP1hd+oYL9fYQjAnm1+KorX9s07ZGseQmo=", "resources, MIT"},
		{"ximage", "golang.org/x/image", "v0.48.0", "h1:1AvuPcuoOTJpA7s4VZ5umrb90T3So0rkB/bSGmxkxik=", "test data, BSD 3-Clause"},
	}
}

// fetch answers the folder of the module. Without a way to the module proxy a
// test is skipped, except under CI.
func (m sampleModule) fetch(t testing.TB) string {
	t.Helper()
	cmd := exec.Command("go", "mod", "download", "-json", m.path+"@"+m.version)
	cmd.Dir = t.TempDir() // outside the module: go.mod is not touched
	out, err := cmd.Output()
	var got struct{ Dir, Sum, Error string }
	if jerr := json.Unmarshal(out, &got); jerr != nil || err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatalf("fetch %s: %v %s", m.path, errors.Join(err, jerr), got.Error)
		}
		t.Skipf("%s cannot be fetched: %s", m.path, got.Error)
	}
	require.Equal(t, m.sum, got.Sum, m.path)
	return got.Dir
}

// openSample is one photo of a module.
type openSample struct{ name, path string }

var (
	openOnce    sync.Once
	openFetched []openSample
)

// openSamples are the photos of all modules, each content once, in a fixed order.
func openSamples(t testing.TB) []openSample {
	t.Helper()
	openOnce.Do(func() {
		seen := map[[sha256.Size]byte]bool{}
		for _, m := range sampleModules() {
			openFetched = append(openFetched, photosBelow(t, m.short, m.fetch(t), seen)...)
		}
	})
	if len(openFetched) == 0 {
		t.Skip("the modules with sample photos cannot be fetched")
	}
	return openFetched
}

func photosBelow(t testing.TB, short, root string, seen map[[sha256.Size]byte]bool) (list []openSample) {
	t.Helper()
	endings := []string{".jpg", ".jpeg", ".png", ".webp", ".heic", ".heif", ".hif"}
	require.NoError(t, filepath.WalkDir(root, func(path string, e fs.DirEntry, err error) error {
		if err != nil || !e.Type().IsRegular() || !slices.Contains(endings, strings.ToLower(filepath.Ext(path))) {
			return err
		}
		b, err := os.ReadFile(path)
		if sum := sha256.Sum256(b); err == nil && !seen[sum] {
			seen[sum] = true
			rel, rerr := filepath.Rel(root, path)
			list, err = append(list, openSample{short + "/" + filepath.ToSlash(rel), path}), rerr
		}
		return err
	}))
	return list
}
