package server_test

import (
	"context"
	_ "embed"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

// axe is axe-core 4.14.1 (MPL-2.0), which finds barriers in a rendered page by
// the success criteria of WCAG 2.2.
//
//go:embed testdata/axe/axe.min.js
var axe string

// barriers holds that axe finds nothing serious or critical on the page, and no
// target smaller than WCAG 2.2 asks for.
func (b *tab) barriers() {
	b.t.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, patience)
	defer cancel()
	_, err := chromedp.Run(ctx, chromedp.Evaluate[bool](axe+"; true"))
	require.NoError(b.t, err)
	found, err := chromedp.Run(ctx, chromedp.Evaluate[string](`axe.run(document, {
		resultTypes: ["violations"],
		rules: { "target-size": { enabled: true } },
	}).then((r) => r.violations.filter((v) => v.impact === "serious" || v.impact === "critical")
		.map((v) => v.id + " (" + v.impact + "): " + v.nodes.slice(0, 4).map((n) => n.html.slice(0, 160) + " – " + n.failureSummary).join("\n    ")).join("\n"))`,
		chromedp.EvalAwaitPromise))
	require.NoError(b.t, err)
	if found != "" { // go on: the other pages may have theirs
		b.t.Errorf("barriers on %s\n%s", b.where(), found)
	}
}
