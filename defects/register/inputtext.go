package register

import (
	"errors"
	"strconv"
	"strings"

	"storeyrod/defects"
)

// Lengths of text that comes in with photos and readings, in characters.
const (
	maxWord = 80   // a name, batch, stage or mode
	maxNote = 2000 // a remark
)

// cleanNote is cleanText for text of several lines; line ends become "\n".
func cleanNote(field, s string) (string, error) {
	lines := strings.Split(strings.ReplaceAll(strings.TrimSpace(s), "\r\n", "\n"), "\n")
	for i, line := range lines {
		clean, err := cleanText(field, strings.ReplaceAll(line, "\t", " "), maxNote)
		if err != nil {
			return "", err
		}
		lines[i] = clean
	}
	return cleanedWithin(field, strings.Join(lines, "\n"))
}

func cleanedWithin(field, s string) (string, error) {
	if len([]rune(s)) > maxNote {
		return "", defects.RefuseField(defects.Invalid, field, "text_too_long", "at most 2000 characters")
	}
	return s, nil
}

// checkStage refuses a stage that is none of the work's; "" passes.
func checkStage(code string) error {
	if defects.KnownStage(code) {
		return nil
	}
	return defects.RefuseField(defects.Invalid, "stage", "unknown_stage",
		strconv.Quote(shorten(code, 20))+" is no stage; the stages are "+strings.Join(defects.StageCodes(), " "))
}

// inField names the input at fault on a refusal that does not know it yet.
func inField(err error, field string) error {
	var e *defects.Error
	if errors.As(err, &e) && e.Field == "" {
		named := *e
		named.Field = field
		return &named
	}
	return err
}

// rowRefusal makes any error one row's refusal. What the user cannot mend is
// told as such, with the cause kept for the log.
func rowRefusal(err error) *defects.Error {
	if e, ok := asError(err); ok {
		return e
	}
	return &defects.Error{Kind: defects.Unavailable, Code: "not_stored", Text: "could not be stored; try again", Err: err}
}

// shorten cuts foreign text before it is repeated in a message.
func shorten(s string, n int) string {
	if len(s) <= n {
		return s
	}
	return strings.ToValidUTF8(s[:n], "") + "…"
}
