package web

import (
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"fmt"
	"io/fs"
	"mime"
	"path"
)

//go:embed static
var static embed.FS

const fingerprintHex = 12

// Asset is one static file under an address that changes with its content, so
// it may be cached for ever.
type Asset struct {
	URL     string
	Type    string
	ETag    string
	Content []byte
}

// Assets is all static files, by name and by address.
type Assets struct {
	byName map[string]Asset
	byURL  map[string]Asset
}

func newAssets() (*Assets, error) {
	a := &Assets{byName: map[string]Asset{}, byURL: map[string]Asset{}}
	err := fs.WalkDir(static, "static", func(file string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		content, err := static.ReadFile(file)
		if err != nil {
			return err
		}
		a.add(path.Base(file), content)
		return nil
	})
	return a, err
}

func (a *Assets) add(name string, content []byte) {
	sum := sha256.Sum256(content)
	print := hex.EncodeToString(sum[:])[:fingerprintHex]
	kind := mime.TypeByExtension(path.Ext(name))
	switch path.Ext(name) { // the machine's own table may lack or differ on these
	case ".js":
		kind = "text/javascript; charset=utf-8"
	case ".css":
		kind = "text/css; charset=utf-8"
	case ".svg":
		kind = "image/svg+xml"
	case ".webmanifest":
		kind = "application/manifest+json"
	}
	asset := Asset{URL: "/static/" + print + "/" + name, Type: kind, ETag: `"` + print + `"`, Content: content}
	a.byName[name], a.byURL[asset.URL] = asset, asset
}

// URL is the address of a static file by its name; an unknown one is an error,
// which stops the page.
func (a *Assets) URL(name string) (string, error) {
	asset, ok := a.byName[name]
	if !ok {
		return "", fmt.Errorf("no static file %q", name)
	}
	return asset.URL, nil
}

// Find gives the asset at an address.
func (a *Assets) Find(url string) (Asset, bool) {
	asset, ok := a.byURL[url]
	return asset, ok
}
