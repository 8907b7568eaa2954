package defects

// Kind sorts every refusal a user can cause into one of a closed list. It is an
// error itself, so errors.Is(err, defects.NotFound) works on a wrapped *Error.
type Kind string

// The kinds. The server alone maps them to HTTP statuses.
const (
	Invalid         Kind = "invalid"           // the input breaks a rule; Field names it
	NotFound        Kind = "not_found"         // no such thing, or not one the actor may know of
	Unauthenticated Kind = "unauthenticated"   // nobody is signed in
	Forbidden       Kind = "forbidden"         // the role may not do this; Text says who may
	Conflict        Kind = "conflict"          // the present state does not allow it
	Stale           Kind = "stale"             // made against an older version
	VersionNeeded   Kind = "version_needed"    // the version seen was not stated
	TooLarge        Kind = "too_large"         // over a limit of bytes, pixels or rows
	UnsupportedType Kind = "unsupported_type"  // not a type that is taken
	Question        Kind = "question"          // plausibility doubt: asks, never changes
	TooMany         Kind = "too_many_requests" // slow down
	Unavailable     Kind = "unavailable"       // try again later
	Locked          Kind = "locked"            // another is at work on it this moment
	Gone            Kind = "gone"              // it was there and its time is over
	Mismatch        Kind = "checksum_mismatch" // the bytes that came are not those that were sent
)

// Error makes a Kind usable with errors.Is.
func (k Kind) Error() string { return string(k) }

// Detail is one named part of a refusal: one field of many, or one reason.
type Detail struct {
	Field string // path of the input, "" when it is not about one
	Code  string // stable word, snake_case
	Text  string // plain English for a person
}

// Error is what a use case answers when the user can do something about it.
// Code is stable and more exact than Kind ("photo_reused", "too_few_tests");
// when empty the kind's own word is used.
type Error struct {
	Kind    Kind
	Code    string
	Field   string
	Text    string
	Details []Detail
	Err     error // cause, for the log only
}

// Error gives the text for a person, with the field in front when there is one.
func (e *Error) Error() string {
	text := e.Text
	if text == "" {
		text = e.CodeOrKind()
	}
	if e.Field != "" {
		return e.Field + ": " + text
	}
	return text
}

// Unwrap lets errors.Is see the kind, and errors.As the cause.
func (e *Error) Unwrap() []error {
	if e.Err != nil {
		return []error{e.Kind, e.Err}
	}
	return []error{e.Kind}
}

// CodeOrKind is the stable word of the refusal.
func (e *Error) CodeOrKind() string {
	if e.Code != "" {
		return e.Code
	}
	return string(e.Kind)
}

// Refuse builds an *Error without a field.
func Refuse(kind Kind, code, text string) *Error {
	return &Error{Kind: kind, Code: code, Text: text}
}

// RefuseField builds an *Error that names the input at fault.
func RefuseField(kind Kind, field, code, text string) *Error {
	return &Error{Kind: kind, Code: code, Field: field, Text: text}
}
