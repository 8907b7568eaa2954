package register

import (
	"context"
	"time"

	"storeyrod/defects"
	"storeyrod/evidence"
)

// Store gives transactions over the register's data. Package models implements
// it for SQLite and PostgreSQL, held to the contract in models/contract_test.go.
//
// Every finder answers defects.NotFound (wrapped in a *defects.Error) when the
// row is missing or belongs to another site. Every Update is guarded by the
// Version of the value it is given and stores Version+1; when another writer
// was faster it answers defects.Stale. Every Insert that meets a taken unique
// name answers defects.Conflict with a code such as "name_taken".
type Store interface {
	// Read runs fn on a consistent snapshot; fn must not write.
	Read(ctx context.Context, fn func(Tx) error) error
	// Write runs fn in one transaction and commits durably when fn returns
	// nil. fn may run again after a serialisation failure, so it must have no
	// effect outside the transaction.
	Write(ctx context.Context, fn func(Tx) error) error
}

// Tx is one transaction's view of the data, by aggregate.
type Tx interface {
	People() People
	Keys() Keys
	Sites() Sites
	Walls() Walls
	Photos() Photos
	Copies() Copies
	Jobs() Jobs
	Readings() Readings
	Tools() Tools
	Schedules() Schedules
	Rejudgements() Rejudgements
	Surveys() Surveys
	Weather() Weather
	Snags() Snags
	Releases() Releases
	Log() Log
	Replies() Replies
	Uploads() Uploads
	Archive() Archive
}

// People holds accounts and memberships.
type People interface {
	InsertAccount(ctx context.Context, a defects.Account) error
	UpdateAccount(ctx context.Context, a defects.Account) error
	Account(ctx context.Context, id string) (defects.Account, error)
	AccountByLogin(ctx context.Context, login string) (defects.Account, error)
	Accounts(ctx context.Context) ([]defects.Account, error)
	SetMembership(ctx context.Context, m defects.Membership) error // inserts or replaces; empty Role removes
	Memberships(ctx context.Context, by MembershipFilter) ([]defects.Membership, error)
}

// MembershipFilter picks by site, by account, or both; at least one is set.
type MembershipFilter struct{ SiteID, AccountID string }

// Keys holds sessions, tokens and one-time links.
type Keys interface {
	InsertKey(ctx context.Context, k defects.Key) error
	KeyByHash(ctx context.Context, hash string) (defects.Key, error)
	KeysOf(ctx context.Context, accountID string) ([]defects.Key, error)
	TouchKey(ctx context.Context, id string, seen time.Time) error
	RevokeKey(ctx context.Context, id string) error
	RevokeKeysOf(ctx context.Context, accountID string, kind defects.KeyKind) error
	DeleteKeysExpired(ctx context.Context, before time.Time) (int, error)
}

// Sites holds sites, milestones and the per-site counters.
type Sites interface {
	InsertSite(ctx context.Context, s defects.Site) error
	UpdateSite(ctx context.Context, s defects.Site) error
	Site(ctx context.Context, id string) (defects.Site, error)
	Sites(ctx context.Context, ids []string) ([]defects.Site, error) // nil = all; by name
	SaveMilestone(ctx context.Context, m defects.Milestone) error    // Version 0 inserts
	DeleteMilestone(ctx context.Context, siteID, id string) error
	Milestones(ctx context.Context, siteID string) ([]defects.Milestone, error)
	Stored(ctx context.Context, siteID string) (Stored, error) // kept in step by InsertPhoto and Uploads
}

// Walls holds buildings and elevations.
type Walls interface {
	InsertBuilding(ctx context.Context, b defects.Building) error
	UpdateBuilding(ctx context.Context, b defects.Building) error
	Buildings(ctx context.Context, siteID string) ([]defects.Building, error)
	InsertElevation(ctx context.Context, e defects.Elevation) error
	UpdateElevation(ctx context.Context, e defects.Elevation) error
	Elevation(ctx context.Context, siteID, id string) (defects.Elevation, error)
	Elevations(ctx context.Context, siteID string) ([]defects.Elevation, error) // by building, then order
}

// Photos holds photos.
type Photos interface {
	InsertPhoto(ctx context.Context, p defects.Photo) error // sha taken in the site: Conflict "photo_known"
	UpdatePhoto(ctx context.Context, p defects.Photo) error
	Photo(ctx context.Context, siteID, id string) (defects.Photo, error)
	PhotoBySHA(ctx context.Context, siteID, sha string) (defects.Photo, error)
	// NamedSHAs tells which of the hashes a row of any site names. A kind of
	// record that names originals and is no photo must be counted in here too:
	// what is not named is taken back by ReclaimOriginals. In a writing
	// transaction it waits first for those that may be about to name one.
	NamedSHAs(ctx context.Context, shas []string) ([]string, error)
	ListPhotos(ctx context.Context, f PhotoFilter, page Page) ([]defects.Photo, error) // newest received first
	PhotosByID(ctx context.Context, siteID string, ids []string) ([]defects.Photo, error)
	PhotosByHash(ctx context.Context, siteID string, shas []string) ([]defects.Photo, error)
	// PhotosOfGang tells which of the photos are used by snags or readings of a
	// gang, or of a person. An empty gang is none.
	PhotosOfGang(ctx context.Context, siteID string, ids []string, gang, accountID string) ([]string, error)
}

// PhotoFilter narrows a list of photos; zero fields do not narrow.
type PhotoFilter struct {
	SiteID      string
	ElevationID string
	Unplaced    bool
	Offered     bool // those offered anew after outlines changed
	Stage       string
	AddedBy     string
	Gang        string
	Derived     string // "waiting": those whose view copies are still to be made
	SnagID      string
}

// Page asks for up to Limit rows after the cursor. The cursor is opaque to
// callers: a list's last row gives the next one through CursorOf… functions.
type Page struct {
	Limit int
	After string
}

// Readings holds single readings, sets and verdicts.
type Readings interface {
	InsertReading(ctx context.Context, r defects.Reading) error // with its verdict
	UpdateReading(ctx context.Context, r defects.Reading) error
	Reading(ctx context.Context, siteID, id string) (defects.Reading, error)
	ReadingByClientID(ctx context.Context, siteID, clientID string) (defects.Reading, error)
	SameReading(ctx context.Context, r defects.Reading, n int) (defects.Reading, error)      // the n-th alike from 0, the oldest first
	ListReadings(ctx context.Context, f ReadingFilter, page Page) ([]defects.Reading, error) // newest measured first
	// Figures gives what statistics need of the readings a filter lets through, the
	// oldest measured first, at most limit; verdicts come without their
	// conformance probability.
	Figures(ctx context.Context, f ReadingFilter, limit int) ([]defects.Figure, error)
	SaveSet(ctx context.Context, s defects.Set) error // Version 0 inserts
	Set(ctx context.Context, siteID, id string) (defects.Set, error)
	Sets(ctx context.Context, siteID string) ([]defects.Set, error)
}

// ReadingFilter narrows a list of readings; zero fields do not narrow.
type ReadingFilter struct {
	SiteID      string
	ElevationID string
	Quantity    string
	Stage       string
	SetID       string
	Outcome     defects.Outcome
	Gang        string
	IDs         []string
	Since       time.Time // measured at this instant or later
	Until       time.Time // measured before this instant
	Unanswered  bool      // verdict fail or conditional, standing, and no snag raised from it
}

// Tools holds instruments with their calibrations.
type Tools interface {
	InsertInstrument(ctx context.Context, i defects.Instrument) error
	UpdateInstrument(ctx context.Context, i defects.Instrument) error
	Instrument(ctx context.Context, siteID, id string) (defects.Instrument, error)
	Instruments(ctx context.Context, siteID string) ([]defects.Instrument, error)
}

// Schedules holds a site's own tolerance schedules; built-in ones are in
// package reference.
type Schedules interface {
	InsertSchedule(ctx context.Context, siteID string, s StoredSchedule) error
	Schedules(ctx context.Context, siteID string) ([]StoredSchedule, error)
}

// Rejudgements holds decisions to judge readings anew.
type Rejudgements interface {
	InsertRejudgement(ctx context.Context, j defects.Rejudgement) error
	UpdateRejudgement(ctx context.Context, j defects.Rejudgement) error
	Rejudgement(ctx context.Context, siteID, id string) (defects.Rejudgement, error)
	// Rejudgements lists a site's, the newest first; for no site, those of all
	// sites that are still running, the oldest first.
	Rejudgements(ctx context.Context, siteID string, limit int) ([]defects.Rejudgement, error)
}

// Surveys holds line and level surveys.
type Surveys interface {
	InsertSurvey(ctx context.Context, s defects.Survey) error
	UpdateSurvey(ctx context.Context, s defects.Survey) error
	Survey(ctx context.Context, siteID, id string) (defects.Survey, error)
	ListSurveys(ctx context.Context, f SurveyFilter, page Page) ([]defects.Survey, error) // newest measured first
}

// SurveyFilter narrows a list of surveys; zero fields do not narrow. Without
// Whole the offsets are left out.
type SurveyFilter struct {
	SiteID      string
	ElevationID string
	Stage       string
	Whole       bool
}

// Weather holds the lines of weather logs.
type Weather interface {
	InsertWeather(ctx context.Context, w defects.WeatherLine) error
	UpdateWeather(ctx context.Context, w defects.WeatherLine) error
	WeatherLine(ctx context.Context, siteID, id string) (defects.WeatherLine, error)
	ListWeather(ctx context.Context, f WeatherFilter, page Page) ([]defects.WeatherLine, error) // newest first
}

// WeatherFilter narrows a list of weather lines; zero fields do not narrow.
type WeatherFilter struct {
	SiteID      string
	ElevationID string    // those of this elevation, and those of the site as a whole
	From, Until time.Time // at both or between
}

// StoredSchedule is one version of a project's schedule, as its JSON document.
type StoredSchedule struct {
	Name     string
	Version  int
	Document []byte
	AddedBy  string
	AddedAt  time.Time
}

// Snags holds snags and finds them for lists.
type Snags interface {
	NextNumber(ctx context.Context, siteID string) (int, error) // never answers the same twice for a site
	InsertSnag(ctx context.Context, s defects.Snag) error
	UpdateSnag(ctx context.Context, s defects.Snag) error
	Snag(ctx context.Context, siteID string, number int) (defects.Snag, error)
	ListSnags(ctx context.Context, f SnagFilter, page Page) ([]defects.Snag, error)
	CountSnags(ctx context.Context, f SnagFilter) (map[SnagCount]int, error)
	// Gangs lists the gangs that a site's snags were given to, each once.
	Gangs(ctx context.Context, siteID string) ([]string, error)
	// EvidenceUse tells which snags of the site already use one of the photos.
	EvidenceUse(ctx context.Context, siteID string, photoIDs []string) (map[string][]int, error)
}

// SnagFilter narrows a list of snags; zero fields do not narrow.
type SnagFilter struct {
	SiteID      string
	ElevationID string
	States      []defects.State
	OpenOnly    bool
	Severities  []defects.Severity
	Stage       string
	Gang        string
	Code        string
	CodeOrStage string // a code, or the stage that codes begin with: "BM" finds "BM-05"
	Bay, Lift   int
	Numbers     []int
	ReadingID   string // raised from it, or offered with it
	Order       SnagOrder
}

// SnagOrder is how a list of snags is sorted.
type SnagOrder string

// The orders.
const (
	ByNumber SnagOrder = ""     // number ascending
	ByWalk   SnagOrder = "walk" // walking order within each elevation
)

// SnagCount groups snags for totals.
type SnagCount struct {
	ElevationID string
	State       defects.State
	Severity    defects.Severity
}

// Releases holds answers to hold points.
type Releases interface {
	InsertRelease(ctx context.Context, r defects.Release) error
	Releases(ctx context.Context, siteID string) ([]defects.Release, error) // newest first
}

// Log is the append-only record. There is no update and no delete.
type Log interface {
	// Append gives the entry the site's next sequence number, encodes it with
	// evidence.Encode and stores the bytes. It answers the number.
	Append(ctx context.Context, e evidence.Entry) (int64, error)
	// Entries lists a site's encoded entries from a sequence number up.
	Entries(ctx context.Context, siteID string, from int64, limit int) ([][]byte, error)
	// EntriesOf lists the encoded entries about one subject, oldest first.
	EntriesOf(ctx context.Context, siteID, subjectType, subjectID string) ([][]byte, error)
	// Search lists up to limit encoded entries that a filter lets through,
	// newest first, or oldest first when it says so.
	Search(ctx context.Context, f LogFilter, limit int) ([][]byte, error)
	// Head is the sequence number of the site's last entry, 0 when it has none.
	Head(ctx context.Context, siteID string) (int64, error)
}

// LogFilter narrows a search of the log; zero fields do not narrow.
type LogFilter struct {
	SiteID      string
	Oldest      bool      // the oldest come first
	From        int64     // sequence number that no entry lies below
	Before      int64     // sequence number that all entries lie below
	Since       time.Time // at this instant or later
	Until       time.Time // before this instant
	ByID        string    // account of who did it
	Kind        string
	SubjectType string
	Number      int // of the subject
}

// Replies remembers answers to idempotent requests.
type Replies interface {
	SaveReply(ctx context.Context, r Reply) error // key taken: Conflict "reply_known"
	// AnswerReply completes a claim: the row with this key, this At and Status 0.
	// When it is gone or answered, Stale.
	AnswerReply(ctx context.Context, r Reply) error
	// DeleteReply takes a claim away, told by key, At and Status 0; nothing
	// happens when there is none.
	DeleteReply(ctx context.Context, r Reply) error
	Reply(ctx context.Context, accountID, key string) (Reply, error)
	DeleteRepliesBefore(ctx context.Context, before time.Time) (int, error)
}

// Reply is the stored answer to a request with an Idempotency-Key; Status 0 is a
// claim, of a request that is not answered yet.
type Reply struct {
	AccountID   string
	Key         string
	Fingerprint string // hash of method, path and body
	Status      int
	ContentType string
	Location    string
	ETag        string
	Body        []byte
	At          time.Time // of the claim
}
