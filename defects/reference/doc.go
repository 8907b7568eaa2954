// Package reference owns the figures that come with the program as data files:
// tolerance schedules with their sources, the defect catalogue, the stages of
// the work, the cautions, and the readings and photos each stage needs. It
// parses those files, and a project's own schedule files, into the types of
// package defects.
//
// It must import nothing of this project but package defects. The files are
// compiled in; there is no network and no disk access.
package reference
