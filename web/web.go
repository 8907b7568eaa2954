package web

import (
	"embed"
	"fmt"
	"html/template"
	"io"
	"io/fs"
	"path"
	"strings"
)

//go:embed templates
var templates embed.FS

// Pages renders every page. All templates are parsed by New, so a mistake in
// one stops the program at its start.
type Pages struct {
	byName map[string]*template.Template
	assets *Assets
}

// New parses the templates and fingerprints the assets.
func New() (*Pages, error) {
	assets, err := newAssets()
	if err != nil {
		return nil, err
	}
	p := &Pages{byName: map[string]*template.Template{}, assets: assets}
	base, err := template.New("base").Funcs(funcs(assets)).ParseFS(templates, "templates/layout.html", "templates/part_*.html")
	if err != nil {
		return nil, fmt.Errorf("parse layout: %w", err)
	}
	files, err := fs.Glob(templates, "templates/page_*.html")
	if err != nil {
		return nil, err
	}
	for _, file := range files {
		page, err := base.Clone()
		if err != nil {
			return nil, err
		}
		if _, err := page.ParseFS(templates, file); err != nil {
			return nil, fmt.Errorf("parse %s: %w", file, err)
		}
		p.byName[strings.TrimSuffix(strings.TrimPrefix(path.Base(file), "page_"), ".html")] = page
	}
	return p, nil
}

// Render writes the page named by its file, "sign_in" for page_sign_in.html.
// Callers give a buffer, so that a failing template never sends half a page.
func (p *Pages) Render(w io.Writer, name string, view any) error {
	page, ok := p.byName[name]
	if !ok {
		return fmt.Errorf("no page %q", name)
	}
	return page.ExecuteTemplate(w, "layout", view)
}

// Names lists the pages there are.
func (p *Pages) Names() []string {
	names := make([]string, 0, len(p.byName))
	for n := range p.byName {
		names = append(names, n)
	}
	return names
}

// Assets gives the static files.
func (p *Pages) Assets() *Assets { return p.assets }
