// Package web owns what the browser gets: the page templates, the style sheet,
// the bundled script and the icons, all embedded, with the functions templates
// call. Views are filled by package server.
//
// It must not import any other package of this project, database/sql or os.
// Scripts are written in TypeScript under src and bundled into static/app.js by
// "make web"; the result is committed, so that building the program needs Go
// alone.
package web
