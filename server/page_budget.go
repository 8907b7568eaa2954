package server

import (
	"math"
	"strconv"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/defects/statistics"
)

// budgetView is the part of a reading's page on its uncertainty.
type budgetView struct {
	statistics.Assessment
	Item defects.Reading
}

func newBudgetView(b register.Budget) budgetView { return budgetView{b.Assessment, b.Reading} }

// Exact reports a value that has no uncertainty.
func (v budgetView) Exact() bool { return v.Item.Unit == "count" && v.Item.Expanded == nil }

// Digits prints a worked-out figure with the digits that matter.
func (v budgetView) Digits(f float64) string { return strconv.FormatFloat(f, 'g', 3, 64) }

// Nu prints degrees of freedom, cut down to a whole number as GUM G.4.1 asks.
func (v budgetView) Nu(nu float64) string {
	if math.IsInf(nu, 1) {
		return "∞"
	}
	return strconv.FormatFloat(math.Floor(nu), 'f', 0, 64)
}

// Percent prints a share in per cent.
func (v budgetView) Percent(f float64) string { return percent(f) }
