// Package defects owns the decisions of Storeyrod: quantities and exact
// decimals, limits and verdicts, elevations and places on them, photos as
// evidence, the life of a snag, and who may do what.
//
// It holds values and functions of their arguments only. It must not import
// any other package of this project nor anything outside the standard library,
// and it knows no clock, no context, no file, no database and no encoding.
// Instants come in as arguments; lengths on a wall are whole millimetres.
package defects
