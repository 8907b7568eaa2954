// Package models owns the database: it implements the ports of package register
// over SQLite and PostgreSQL, and every SQL statement of the program is in it or
// in package migrations. Row types are unexported, with converters both ways;
// no associations, no hooks, no schema made by code.
//
// It must not import net/http, html/template, nor any package that talks to a
// person. It decides nothing: what may happen is settled in packages defects
// and register, and the database's constraints only hold the line.
package models
