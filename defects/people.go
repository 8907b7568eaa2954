package defects

import "time"

// Account is one person who can sign in.
type Account struct {
	ID           string
	Login        string // lower case, unique
	Name         string
	PasswordHash string // argon2id, encoded; "" = cannot sign in with a password
	Admin        bool   // may make sites and accounts
	Disabled     bool
	CreatedAt    time.Time
	Version      int
}

// Membership is a person's role on one site.
type Membership struct {
	SiteID    string
	AccountID string
	Name      string // copied for lists
	Login     string
	Role      Role
	Gang      string // for installers and operatives
}

// Key is a signed-in session or a program's bearer token. Only the SHA-256 of
// the secret is stored.
type Key struct {
	ID        string
	Hash      string // hex SHA-256 of the secret
	AccountID string
	Kind      KeyKind
	Label     string // device or program
	CreatedAt time.Time
	ExpiresAt time.Time
	LastSeen  time.Time
	Revoked   bool
}

// KeyKind tells sessions, tokens and one-time links apart.
type KeyKind string

// The kinds of key.
const (
	SessionKey KeyKind = "session" // cookie of a person
	TokenKey   KeyKind = "token"   // bearer token of a program
	LinkKey    KeyKind = "link"    // one-time link: first set-up or password reset
)
