package evidence

import (
	"errors"
	"fmt"
	"io/fs"
	"syscall"
)

// Fault is a reason this package gives for not doing something. Faults are
// compared with errors.Is; the errors that carry them say the details.
type Fault string

// The faults.
const (
	ErrNotFound Fault = "not found"                      // no original or view copy of that name
	ErrTooLarge Fault = "too large"                      // more bytes than the caller allows
	ErrBadName  Fault = "not a valid name"               // a Ref or kind that cannot name anything
	ErrSettled  Fault = "already kept or discarded"      // a Staged used after Discard or Keep
	ErrDamaged  Fault = "kept bytes are damaged"         // what is kept does not fit its name
	ErrFull     Fault = "no space left in the store"     // disk full or quota used up
	ErrDenied   Fault = "no permission to use the store" // rights missing or mounted read-only
	ErrBusy     Fault = "in use by another"              // a part that somebody has open
	ErrJSON     Fault = "unusable JSON"                  // malformed, ambiguous or over a limit
	ErrEntry    Fault = "unusable log entry"             // a field missing or out of its range
	ErrTaken    Fault = "the name is taken"              // something is there that must not be written over
	ErrBundle   Fault = "no bundle"                      // neither a folder nor a ZIP file with a list of hashes
)

// Error gives the reason in words.
func (f Fault) Error() string { return string(f) }

// classify adds the fault to an error of the file system, so that a full disk,
// missing rights and a missing file can be told apart without knowing the
// platform. A nil error stays nil.
func classify(operation string, err error) error {
	switch {
	case err == nil:
		return nil
	case errors.Is(err, syscall.ENOSPC), errors.Is(err, syscall.EDQUOT):
		return fmt.Errorf("%s: %w: %w", operation, ErrFull, err)
	case errors.Is(err, fs.ErrPermission), errors.Is(err, syscall.EROFS):
		return fmt.Errorf("%s: %w: %w", operation, ErrDenied, err)
	case errors.Is(err, fs.ErrNotExist):
		return fmt.Errorf("%s: %w: %w", operation, ErrNotFound, err)
	default:
		return fmt.Errorf("%s: %w", operation, err)
	}
}
