// Package statistics owns the mathematics of judgement that needs special
// functions or quadrature: uncertainty budgets, the risks of a decision rule,
// statistics of a set of readings, tolerance intervals, acceptance by
// attributes and by variables, control charts, and the draw of an audit sample.
//
// Everything is a function of its arguments. Bad input (not a number, too few
// values, no spread) is refused with a *defects.Error and never guessed around.
// It is apart from package defects because it stands on gonum, and defects must
// stay on the standard library alone. It must not import any package of this
// project but defects, nor know a clock, a file, a database or the network.
package statistics
