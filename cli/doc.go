// Package cli owns the command line: the verbs, their flags and texts, the
// settings they share, and the wiring of the other packages into one program.
// Whatever a verb changes it changes through package register or through the
// REST interface of a running server; whatever it decides it asks of package
// defects.
//
// Exit codes: 0 done, 1 something was refused or a fault was found, 2 wrong
// usage. A verdict of "fail" is an answer and no fault of the run.
//
// It must not import database/sql, gorm or gin, and no other package of this
// project imports it but main.
package cli
