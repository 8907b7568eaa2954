package defects

// Schedule is a named, versioned set of limits. A published one is never
// changed under the same version.
type Schedule struct {
	Name    string // lower case words joined by hyphens, "din-18202-t2"
	Version int    // from 1
	Title   string // publication, or "common practice, no source"
	Edition string
	Notes   string // what a reader must know before using it
	Basis   Basis  // of every limit that states none itself
	Rank    Rank   // "" = by its basis, see RankOf
	Agreed  Agreed // of a project's own
	Limits  []Limit
}

// Agreed says who agreed a project's schedule and on which day ("2006-01-02").
type Agreed struct {
	By string
	On string
}
