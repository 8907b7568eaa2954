// Package modelstest owns databases for tests: a migrated SQLite file or a
// PostgreSQL database of its own for every test. The PostgreSQL server is a
// real one, of the machine's Debian package, started by postgres.sh when a test
// first asks for it and stopped when the test program ends. When the variable
// STOREYROD_TEST_POSTGRES holds an address, that server is used instead, so
// that several packages share one.
//
// It serves tests only and must not import any package of this project but
// models.
package modelstest
