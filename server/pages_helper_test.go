package server_test

import (
	"bytes"
	"io"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"

	"storeyrod/defects"
)

// pageOf is one page as a browser reads it.
type pageOf struct {
	t      testing.TB
	what   string
	Status int
	Header http.Header
	Body   string
	Root   *html.Node
}

// visitor is somebody with a browser that keeps its cookies and follows.
type visitor struct {
	w *world
	b *http.Client
}

func (w *world) visit(role defects.Role) visitor { w.t.Helper(); return visitor{w, w.browser(role)} }

func (v visitor) get(path string) pageOf {
	v.w.t.Helper()
	res, err := v.b.Get(v.w.http.URL + path)
	require.NoError(v.w.t, err)
	return readPage(v.w.t, "GET "+path, res)
}

func (v visitor) post(path string, fields url.Values) pageOf {
	v.w.t.Helper()
	res, err := v.b.PostForm(v.w.http.URL+path, fields)
	require.NoError(v.w.t, err)
	return readPage(v.w.t, "POST "+path, res)
}

func (v visitor) send(path, contentType string, body []byte) pageOf {
	v.w.t.Helper()
	res, err := v.b.Post(v.w.http.URL+path, contentType, bytes.NewReader(body))
	require.NoError(v.w.t, err)
	return readPage(v.w.t, "POST "+path, res)
}

func readPage(t testing.TB, what string, res *http.Response) pageOf {
	t.Helper()
	defer res.Body.Close() //nolint:errcheck // read side
	body, err := io.ReadAll(res.Body)
	require.NoError(t, err)
	root, err := html.Parse(bytes.NewReader(body))
	require.NoError(t, err)
	return pageOf{t: t, what: what, Status: res.StatusCode, Header: res.Header, Body: string(body), Root: root}
}

func (p pageOf) want(status int) pageOf {
	p.t.Helper()
	require.Equal(p.t, status, p.Status, "%s: %s", p.what, p.text())
	return p
}

// all finds the elements of a name whose attributes hold all of the pairs.
func (p pageOf) all(name string, attrs ...string) []*html.Node {
	var out []*html.Node
	for n := range p.Root.Descendants() {
		if n.Type != html.ElementNode || n.Data != name {
			continue
		}
		fits := true
		for i := 0; i+1 < len(attrs); i += 2 {
			fits = fits && attrOf(n, attrs[i]) == attrs[i+1]
		}
		if fits {
			out = append(out, n)
		}
	}
	return out
}

func (p pageOf) one(name string, attrs ...string) *html.Node {
	p.t.Helper()
	found := p.all(name, attrs...)
	require.Len(p.t, found, 1, "%s: %s %v in %s", p.what, name, attrs, p.text())
	return found[0]
}

func attrOf(n *html.Node, name string) string {
	for _, a := range n.Attr {
		if a.Key == name {
			return a.Val
		}
	}
	return ""
}

func textOf(n *html.Node) string {
	var b strings.Builder
	for d := range n.Descendants() {
		if d.Type == html.TextNode && d.Parent.Data != "script" && d.Parent.Data != "style" {
			b.WriteString(d.Data + " ")
		}
	}
	return strings.Join(strings.Fields(b.String()), " ")
}

// text is what the page says within its main part.
func (p pageOf) text() string {
	if mains := p.all("main"); len(mains) == 1 {
		return textOf(mains[0])
	}
	return p.Body
}

// value is what a field holds, whatever kind it is.
func (p pageOf) value(form *html.Node, name string) string {
	for n := range form.Descendants() {
		if attrOf(n, "name") != name {
			continue
		}
		switch n.Data {
		case "textarea":
			return strings.TrimSpace(textOf(n))
		case "select":
			for o := range n.Descendants() {
				if slices.ContainsFunc(o.Attr, func(a html.Attribute) bool { return a.Key == "selected" }) {
					return attrOf(o, "value")
				}
			}
			return ""
		}
		return attrOf(n, "value")
	}
	return ""
}

// sound holds what is true of every page: no inline script, style or handler, a
// label for every field, one main part, one heading, no id twice.
func (p pageOf) sound(t *testing.T) {
	t.Helper()
	require.Len(t, p.all("main"), 1, p.what)
	require.Len(t, p.all("h1"), 1, p.what)
	require.NotContains(t, p.Body, "ZgotmplZ", p.what)
	require.NotContains(t, p.Body, "<no value>", p.what)
	ids, labelled := map[string]bool{}, map[string]bool{}
	for n := range p.Root.Descendants() {
		if n.Type != html.ElementNode {
			continue
		}
		for _, a := range n.Attr {
			require.NotEqual(t, "style", a.Key, "%s: inline style on %s", p.what, n.Data)
			require.False(t, strings.HasPrefix(a.Key, "on"), "%s: %s on %s", p.what, a.Key, n.Data)
			if a.Key == "id" {
				require.False(t, ids[a.Val], "%s: id %q twice", p.what, a.Val)
				ids[a.Val] = true
			}
			if a.Key == "for" {
				labelled[a.Val] = true
			}
		}
		require.NotEqual(t, "style", n.Data, p.what)
		if n.Data == "script" {
			require.NotEmpty(t, attrOf(n, "src"), "%s: inline script", p.what)
			require.Nil(t, n.FirstChild, p.what)
		}
	}
	for _, name := range []string{"input", "select", "textarea"} {
		for _, n := range p.all(name) {
			if attrOf(n, "type") != "hidden" {
				require.True(t, labelled[attrOf(n, "id")], "%s: %s %q has no label", p.what, name, attrOf(n, "name"))
			}
		}
	}
}
