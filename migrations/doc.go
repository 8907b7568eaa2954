// Package migrations owns the history of the database's schema: numbered SQL
// files, one folder per dialect with equal numbers, and the code that applies
// them through goose used as a library. A file is never changed once merged;
// the next change is the next number.
//
// CHECK constraints mirror the closed lists of package defects; a test compares
// the two. The package must not import any other package of this project, nor
// net, nor gorm: it is given an open database and a dialect.
package migrations
