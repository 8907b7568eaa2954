package report_test

import (
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/statistics"
	"storeyrod/report"
)

func decimals(texts ...string) []defects.Decimal {
	var out []defects.Decimal
	for _, t := range texts {
		out = append(out, *dec(t))
	}
	return out
}

func wellFormed(t *testing.T, svg string) {
	t.Helper()
	d := xml.NewDecoder(strings.NewReader(svg))
	for {
		if _, err := d.Token(); err != nil {
			require.True(t, errors.Is(err, io.EOF), "%v in %s", err, svg)
			return
		}
	}
}

func TestAStripPlotHasAMarkForEveryReading(t *testing.T) {
	t.Parallel()
	svg := report.StripPlotSVG(report.Spread{
		Values: decimals("9.8", "10.1", "10.1", "10.4", "9.6", "14.9", "6.8"), Unit: "mm", Lower: dec("7"), Upper: dec("13"), Mean: 10.24, Places: 2,
		Interval: &report.SpreadInterval{Lower: 8.1, Upper: 12.4, Words: "90 % of them, with 95 % confidence"}, Flagged: dec("14.9"), FlagWord: "outlier",
	})
	golden(t, "strip.svg", []byte(svg))
	require.Equal(t, 5, strings.Count(svg, "strip-dot"))
	require.Equal(t, 2, strings.Count(svg, "strip-cross"), "beyond a limit another shape")
	require.Contains(t, svg, ">outlier<")
	require.Contains(t, svg, `aria-label="7 readings from 6.8 to 14.9 mm, mean 10.24, limit 7 to 13 mm, 2 beyond it, 90 % of them, with 95 % confidence: 8.10 to 12.40 mm"`)
	wellFormed(t, svg)
}

func TestManyReadingsAreDrawnAsTheirDensity(t *testing.T) {
	t.Parallel()
	var values []defects.Decimal
	for i := range 10_000 {
		values = append(values, defects.MustDecimal(fmt.Sprintf("%d.%d", 9+i%3, i*7%10)))
	}
	svg := report.StripPlotSVG(report.Spread{Values: values, Unit: "mm", Mean: 10, Interval: &report.SpreadInterval{Lower: math.Inf(-1), Upper: 12, Words: "most"}})
	require.NotContains(t, svg, "strip-dot")
	require.Equal(t, 1, strings.Count(svg, "strip-density"))
	require.Less(t, len(svg), 5000)
	require.Contains(t, svg, "most: up to 12 mm")
	wellFormed(t, svg)
}

func TestAStripPlotStandsExtremes(t *testing.T) {
	t.Parallel()
	require.Empty(t, report.StripPlotSVG(report.Spread{}))
	for _, values := range [][]defects.Decimal{
		decimals("5"), decimals("0"), decimals("7", "7", "7"), decimals("9000000000", "8999999999.999999"), decimals("-0.000001", "0.000001"),
	} {
		svg := report.StripPlotSVG(report.Spread{Values: values, Unit: "mm", Mean: values[0].Float()})
		require.NotContains(t, svg, "NaN")
		require.NotContains(t, svg, "Inf")
		wellFormed(t, svg)
	}
}

func TestAControlChartMarksWhatIsBeyondByShapeAndWord(t *testing.T) {
	t.Parallel()
	var list []statistics.Timed
	for i, v := range decimals("10.0", "10.2", "9.9", "10.1", "10.0", "9.8", "10.1", "10.0", "12.9", "10.0", "10.1", "9.9") {
		list = append(list, statistics.Timed{At: time.Date(2026, 6, 1, 8, i, 0, 0, time.UTC), Value: v})
	}
	charts, _ := statistics.Individuals(list)
	svg := report.ControlChartSVG(charts[0], "mm", 2)
	golden(t, "control.svg", []byte(svg))
	require.Equal(t, strings.Count(svg, "chart-out"), strings.Count(svg, ">out<"))
	require.Contains(t, svg, "chart-out")
	wellFormed(t, svg)
	runs, _, err := statistics.MeanAndSpread(list, 4)
	require.NoError(t, err)
	svg = report.ControlChartSVG(runs[0], "mm", 2)
	require.Contains(t, svg, "mean of a run, mm")
	require.NotContains(t, svg, "NaN")
	wellFormed(t, svg)
	require.Empty(t, report.ControlChartSVG(statistics.Chart{}, "mm", 1))
}
