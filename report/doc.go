// Package report owns what people carry away: snag lists as rows, CSV, JSON and
// GeoJSON, and drawings of elevations, verdicts and statistics as SVG. Every form
// of a list is written from the same rows, so the numbers agree everywhere.
//
// It must not import net/http, database/sql or os, nor any package of this
// project but defects and defects/statistics.
package report
