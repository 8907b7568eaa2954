package register

import (
	"errors"
	"fmt"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"storeyrod/defects"
)

const (
	maxName = 120 // characters of a name or label
	dateFmt = "2006-01-02"
)

// cleanName trims a name and refuses an empty or overlong one, and characters
// that cannot be seen: a name must read the same on paper as it is stored.
func cleanName(field, s string) (string, error) {
	s = strings.TrimSpace(s)
	if s == "" {
		return "", defects.RefuseField(defects.Invalid, field, "name_empty", "must not be empty")
	}
	return cleanText(field, s, maxName)
}

// cleanText trims text on one line that may be empty.
func cleanText(field, s string, most int) (string, error) {
	s = strings.TrimSpace(s)
	if !utf8.ValidString(s) {
		return "", defects.RefuseField(defects.Invalid, field, "bad_text", "is not valid UTF-8 text")
	}
	if n := utf8.RuneCountInString(s); n > most {
		return "", defects.RefuseField(defects.Invalid, field, "text_too_long", fmt.Sprintf("at most %d characters, not %d", most, n))
	}
	for _, c := range s {
		if unicode.IsControl(c) || hidden(c) {
			return "", defects.RefuseField(defects.Invalid, field, "bad_text", fmt.Sprintf("the character %U cannot be seen and is not taken", c))
		}
	}
	return s, nil
}

// hidden tells characters that change the order or the look of others without
// being seen: line separators, directional overrides and the byte order mark.
func hidden(c rune) bool {
	return c == '\u2028' || c == '\u2029' || (c >= '\u202a' && c <= '\u202e') || (c >= '\u2066' && c <= '\u2069') || c == '\ufeff'
}

// checkDate refuses a text that is no day of the calendar; "" passes.
func checkDate(field, s string) error {
	if s == "" {
		return nil
	}
	t, err := time.Parse(dateFmt, s)
	if err != nil || t.Year() < 1900 || t.Year() > 2200 {
		return defects.RefuseField(defects.Invalid, field, "bad_date", "is not a date; write it as 2026-03-31")
	}
	return nil
}

// checkVersion compares the version a person saw with the stored one, before
// anything else is decided on it. The store's own guard still catches a writer
// who comes in between.
func checkVersion(seen, stored int, what string) error {
	switch {
	case seen == 0:
		return defects.RefuseField(defects.VersionNeeded, "version", "", "state the version of the "+what+" that you saw")
	case seen != stored:
		return &defects.Error{
			Kind: defects.Stale, Text: "the " + what + " was changed meanwhile; look at it again",
			Details: []defects.Detail{{Field: "version", Code: "current_version", Text: fmt.Sprint(stored)}},
		}
	}
	return nil
}

// asError finds what a user can be told in err; anything else is not his.
func asError(err error) (*defects.Error, bool) {
	var e *defects.Error
	ok := errors.As(err, &e)
	return e, ok
}
