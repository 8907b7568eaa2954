// Package register owns the use cases: the one write path that web pages, the
// REST interface and the command line share. Each one permits, loads, lets
// package defects decide, stores and logs, in one transaction.
//
// It also owns the ports (ports.go) that package models implements. It must not
// import net/http, database/sql, os or html/template, nor any package that
// talks to a person.
package register
