// Package server owns HTTP: the REST interface, the pages, sign-in, and the
// translation of refusals into statuses. Its handlers decode, call one use case
// of package register, and encode; they decide nothing about the work itself.
//
// It must not import package models, database/sql or os/exec: a handler cannot
// open a transaction, so it cannot pass by the rules, the log or a permission.
package server
