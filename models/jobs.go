package models

import (
	"context"
	"time"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

type jobRow struct {
	PhotoID  string `gorm:"primaryKey"`
	SiteID   string
	Sender   string
	Turn     int
	QueuedAt int64
	FreeAt   int64
	Holder   string
	Tries    int
	Lost     int
	Fault    string
}

func (jobRow) TableName() string { return "jobs" }

func (r jobRow) job() register.Job {
	return register.Job{
		PhotoID: r.PhotoID, SiteID: r.SiteID, Sender: r.Sender, Turn: r.Turn, QueuedAt: instant(r.QueuedAt),
		FreeAt: instant(r.FreeAt), Holder: r.Holder, Tries: r.Tries, Lost: r.Lost, Fault: r.Fault,
	}
}

// jobs implements register.Jobs.
type jobs struct{ *tx }

// Enqueue counts no further than the last turn, so that it costs the same
// whatever is waiting.
func (j jobs) Enqueue(ctx context.Context, job register.Job) (err error) {
	defer wrap("enqueue", &err)
	if err := j.enter(ctx, job.SiteID); err != nil {
		return err
	}
	if _, err := exec(ctx, j.tx, sqlText("DELETE FROM jobs WHERE site_id = ? AND photo_id = ?", job.SiteID, job.PhotoID)); err != nil {
		return err
	}
	waiting, err := one[numberRow](ctx, j.tx, "sender", sqlText(
		"SELECT COUNT(*) AS number FROM (SELECT 1 FROM jobs WHERE sender = ? LIMIT ?) AS few", job.Sender, register.LastTurn))
	if err != nil {
		return err
	}
	return insert(ctx, j.tx, jobRow{
		PhotoID: job.PhotoID, SiteID: job.SiteID, Sender: job.Sender, Turn: int(waiting.Number),
		QueuedAt: micros(job.QueuedAt), FreeAt: micros(job.QueuedAt),
	})
}

func (j jobs) Free(ctx context.Context, now time.Time, turns int) (_ bool, err error) {
	defer wrap("free jobs", &err)
	rows, err := list[jobRow](ctx, j.tx, freeJob("*", now, turns))
	return len(rows) > 0, err
}

// freeJob finds the next job that nobody holds.
func freeJob(columns string, now time.Time, turns int) *query {
	return sqlText("SELECT "+columns+" FROM jobs WHERE free_at <= ? AND turn <= ? ORDER BY turn, queued_at, photo_id LIMIT 1", micros(now), turns)
}

// Claim passes by rows that another transaction is claiming.
func (j jobs) Claim(ctx context.Context, now, until time.Time, turns int, holder string) (_ register.Job, err error) {
	defer wrap("claim job", &err)
	next := freeJob("photo_id", now, turns)
	if j.store.pg {
		next.add(" FOR UPDATE SKIP LOCKED")
	}
	q := sqlText("UPDATE jobs SET free_at = ?, holder = ?, lost = lost + CASE WHEN holder = '' THEN 0 ELSE 1 END WHERE photo_id = (",
		micros(until), holder)
	q.add(next.text(), next.args...)
	q.add(") RETURNING *")
	rows, err := list[jobRow](ctx, j.tx, q)
	if err != nil {
		return register.Job{}, err
	}
	if len(rows) == 0 {
		return register.Job{}, notFound("job")
	}
	return rows[0].job(), nil
}

func (j jobs) Extend(ctx context.Context, job register.Job, until time.Time) (err error) {
	defer wrap("extend lease", &err)
	return j.held(ctx, sqlText("UPDATE jobs SET free_at = ? WHERE photo_id = ? AND holder = ?", micros(until), job.PhotoID, job.Holder))
}

func (j jobs) Release(ctx context.Context, job register.Job) (err error) {
	defer wrap("release job", &err)
	return j.held(ctx, sqlText("UPDATE jobs SET free_at = ?, holder = '', tries = ?, fault = ? WHERE photo_id = ? AND holder = ?",
		micros(job.FreeAt), job.Tries, job.Fault, job.PhotoID, job.Holder))
}

func (j jobs) Done(ctx context.Context, job register.Job) (err error) {
	defer wrap("job done", &err)
	if err := j.enter(ctx, job.SiteID); err != nil {
		return err
	}
	return j.held(ctx, sqlText("DELETE FROM jobs WHERE photo_id = ? AND holder = ?", job.PhotoID, job.Holder))
}

// held runs a statement that only the holder of a lease may run.
func (j jobs) held(ctx context.Context, q *query) error {
	n, err := exec(ctx, j.tx, q)
	if err == nil && n == 0 {
		return defects.Refuse(defects.Stale, "lease_lost", "the lease ran out and another has the job")
	}
	return err
}

func (j jobs) Job(ctx context.Context, siteID, photoID string) (_ register.Job, err error) {
	defer wrap("job", &err)
	q := from[jobRow](j.tx)
	q.add(" WHERE site_id = ? AND photo_id = ?", siteID, photoID)
	r, err := one[jobRow](ctx, j.tx, "job", q)
	return r.job(), err
}
