package models

import (
	"context"
	"fmt"
	"math/rand/v2"
	"time"

	"gorm.io/gorm"

	"storeyrod/defects/register"
)

const (
	writeTries   = 6
	firstBackoff = 5 * time.Millisecond
)

// Read runs fn on one snapshot of the data.
func (s *Store) Read(ctx context.Context, fn func(register.Tx) error) error {
	return s.run(ctx, s.read, false, fn)
}

// Write runs fn in one transaction. After a deadlock or a serialisation failure
// it runs fn again, a few times at growing distances.
func (s *Store) Write(ctx context.Context, fn func(register.Tx) error) error {
	pause := firstBackoff
	for try := 1; ; try++ {
		err := s.run(ctx, s.write, true, fn)
		if err == nil || try == writeTries || !retryable(err) {
			return err
		}
		s.log.DebugContext(ctx, "transaction runs again", "try", try, "err", err)
		select {
		case <-ctx.Done():
			return fmt.Errorf("write: %w", ctx.Err())
		case <-time.After(pause + rand.N(pause)):
		}
		pause *= 2
	}
}

// run rolls back on an error and on a panic, which it lets through.
func (s *Store) run(ctx context.Context, p *pool, write bool, fn func(register.Tx) error) (err error) {
	db := p.gorm.WithContext(ctx).Begin(p.opts)
	if db.Error != nil {
		return wrapped("begin", db.Error)
	}
	done := false
	defer func() {
		if !done {
			db.Rollback() // the error of fn is the one to tell; a failed rollback ends the connection
		}
	}()
	if err := fn(&tx{db: db, store: s, write: write, entered: map[string]bool{}}); err != nil {
		return err
	}
	done = true
	if err := db.Commit().Error; err != nil {
		return wrapped("commit", err)
	}
	return nil
}

// tx is one transaction. It is used by one goroutine at a time.
type tx struct {
	db      *gorm.DB
	store   *Store
	write   bool
	entered map[string]bool // sites whose counter row this transaction has locked
	later   []*query        // what archive.Settle has to store
}

var _ register.Tx = (*tx)(nil)

func (t *tx) People() register.People             { return people{t} }
func (t *tx) Keys() register.Keys                 { return keys{t} }
func (t *tx) Sites() register.Sites               { return sites{t} }
func (t *tx) Walls() register.Walls               { return walls{t} }
func (t *tx) Photos() register.Photos             { return photos{t} }
func (t *tx) Copies() register.Copies             { return copies{t} }
func (t *tx) Jobs() register.Jobs                 { return jobs{t} }
func (t *tx) Readings() register.Readings         { return readings{t} }
func (t *tx) Tools() register.Tools               { return tools{t} }
func (t *tx) Schedules() register.Schedules       { return schedules{t} }
func (t *tx) Rejudgements() register.Rejudgements { return rejudgements{t} }
func (t *tx) Surveys() register.Surveys           { return surveys{t} }
func (t *tx) Weather() register.Weather           { return weather{t} }
func (t *tx) Snags() register.Snags               { return snags{t} }
func (t *tx) Releases() register.Releases         { return releases{t} }
func (t *tx) Log() register.Log                   { return chronicle{t} }
func (t *tx) Uploads() register.Uploads           { return uploads{t} }
func (t *tx) Replies() register.Replies           { return replies{t} }
func (t *tx) Archive() register.Archive           { return archive{t} }

// enter makes the transaction the only writer of a site until it ends; see
// openPostgres. Reading transactions and SQLite need nothing. A site that does
// not exist is not refused here: the statement that follows does that.
func (t *tx) enter(ctx context.Context, siteID string) error {
	if !t.write || !t.store.pg || siteID == "" || t.entered[siteID] {
		return nil
	}
	_, err := list[counterRow](ctx, t, sqlText("SELECT * FROM counters WHERE id = ? FOR UPDATE", siteID))
	if err != nil {
		return fmt.Errorf("lock site: %w", err)
	}
	t.entered[siteID] = true
	return nil
}

// lockRow is appended to a SELECT of a row that the transaction is going to
// decide about and that no site's lock covers.
func (t *tx) lockRow() string {
	if t.write && t.store.pg {
		return " FOR UPDATE"
	}
	return ""
}
