// Package evidencetest owns the contracts every evidence.Store and every
// evidence.DerivedStore must keep, as suites of tests that a store's own tests
// call. It must import nothing of this project but package evidence, and
// nothing from outside the standard library.
package evidencetest
