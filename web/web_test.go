package web_test

import (
	"bytes"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/web"
)

func TestAllTemplatesParseAndAllAssetsHaveAnAddress(t *testing.T) {
	t.Parallel()
	pages, err := web.New()
	require.NoError(t, err)
	require.Greater(t, len(pages.Names()), 25)
	for _, name := range []string{"app.css", "app.js", "rod.svg", "waiting.svg"} {
		address, err := pages.Assets().URL(name)
		require.NoError(t, err)
		asset, ok := pages.Assets().Find(address)
		require.True(t, ok)
		require.NotEmpty(t, asset.Content)
		require.NotEmpty(t, asset.Type)
	}
	_, err = pages.Assets().URL("none.css")
	require.Error(t, err)
	require.Error(t, pages.Render(&bytes.Buffer{}, "no_such_page", nil))
}

// The policy forbids them, so a template that has one would not work.
func TestNoTemplateHasInlineScriptOrStyle(t *testing.T) {
	t.Parallel()
	inline := regexp.MustCompile(`(?i)<style|\sstyle=|\son[a-z]+=|<script(?:>|[^>]*[^>]>[^<])|javascript:`)
	files, err := filepath.Glob("templates/*.html")
	require.NoError(t, err)
	require.NotEmpty(t, files)
	for _, file := range files {
		text, err := os.ReadFile(file)
		require.NoError(t, err)
		require.Empty(t, inline.FindString(string(text)), file)
	}
}

// Nothing is loaded from elsewhere: no address of another host anywhere.
func TestNothingIsLoadedFromElsewhere(t *testing.T) {
	t.Parallel()
	elsewhere := regexp.MustCompile(`(?:https?:)?//[a-z0-9][^\s"'<>)]*`)
	for _, dir := range []string{"templates", "static"} {
		err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() {
				return err
			}
			text, err := os.ReadFile(path)
			require.NoError(t, err)
			for _, found := range elsewhere.FindAllString(string(text), -1) {
				require.True(t, strings.HasPrefix(found, "http://www.w3.org/"), "%s: %s", path, found)
			}
			return nil
		})
		require.NoError(t, err)
	}
}

func TestDaysAreSaidAsPeopleWriteThem(t *testing.T) {
	t.Parallel()
	for in, want := range map[string]string{"2026-03-31": "31 Mar 2026", "": "", "when the door is hung": "when the door is hung", "2026-13-01": "2026-13-01"} {
		require.Equal(t, want, web.Day(in))
	}
	require.Equal(t, "joint width bed", web.Words("joint_width_bed"))
	require.Equal(t, "cover-up", web.Words("cover-up"))
}

func TestOptionsOfOneGroupStandTogether(t *testing.T) {
	t.Parallel()
	f := web.Field{Options: []web.Option{{Value: ""}, {Value: "a", Group: "A"}, {Value: "b", Group: "A"}, {Value: "c", Group: "C"}}}
	groups := f.Groups()
	require.Len(t, groups, 3)
	require.Empty(t, groups[0].Group)
	require.Len(t, groups[1].Options, 2)
}

func TestAPresetNeverReplacesWhatWasTyped(t *testing.T) {
	t.Parallel()
	f := web.NewForm("f")
	f.Set("bay", "1").Set("bay", "2").Set("lift", "")
	require.Equal(t, "1", f.Values.Get("bay"))
	require.False(t, f.Values.Has("lift"))
	f.Refuse("bay", "no such bay")
	require.Equal(t, "no such bay", f.Wrong["bay"])
}

func TestWordsForPeople(t *testing.T) {
	t.Parallel()
	for name, want := range map[string]string{"": "", "Rowan": "gang Rowan", "gang Rowan": "gang Rowan", "Gang 2": "Gang 2", "gangway": "gang gangway"} {
		require.Equal(t, want, web.Gang(name))
	}
	require.Equal(t, "6.8 per m² against at least 6 per m²", web.Unit("6.8 1/m2 against at least 6 1/m2"))
	require.Equal(t, "mm", web.Unit("mm"))
}
