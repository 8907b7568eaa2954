// Package reference owns the figures that come with the program as data files:
// tolerance schedules with their sources, the defect catalogue, the stages of
// the work, the cautions, and the readings and photos each stage needs. It
// parses those files, and a project's own schedule files, into the types of
// package defects.
//
// It must not import any package of this project but defects, nor reach for the
// network or the disk: the files are compiled in.
package reference
