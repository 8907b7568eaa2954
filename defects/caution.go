package defects

// Caution is a line shown where the work, or trust in a figure, can hurt
// someone. It defers to local rules and to competent, licensed people.
type Caution struct {
	Topic  string
	Text   string
	Mark   string   // how it is known, in words
	Stages []string // where it is shown; empty = everywhere
}

// RequiredReading is one row of the readings that a stage needs by default.
type RequiredReading struct {
	Stage      string
	Name       string // in words
	Quantities []string
	Unit       string
	Instrument string
	Resolution string
	TypicalU   string // expanded uncertainty, k = 2
	HowMany    string
	Limit      string
	Basis      string
	Note       string
}

// RequiredPhoto is one row of the photos that a stage needs by default.
type RequiredPhoto struct {
	Stage     string
	Show      string // what must be visible
	Kind      string
	Scale     string // scale in view
	HowMany   string
	LostAfter string // stage whose start takes the chance away, in words
}
