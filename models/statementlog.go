package models

import (
	"context"
	"errors"
	"log/slog"
	"time"

	"gorm.io/gorm"
	"gorm.io/gorm/logger"
)

// slowStatement is how long a statement may take before it is logged.
const slowStatement = 500 * time.Millisecond

// statementLog is what gorm logs to: slow statements, without their arguments,
// and nothing else. Errors are returned, so they are not logged here as well.
type statementLog struct {
	log     *slog.Logger
	observe func(sql string)
	slow    time.Duration
}

var (
	_ logger.Interface  = statementLog{}
	_ gorm.ParamsFilter = statementLog{}
)

func (l statementLog) LogMode(logger.LogLevel) logger.Interface { return l }
func (l statementLog) Info(context.Context, string, ...any)     {}
func (l statementLog) Warn(context.Context, string, ...any)     {}
func (l statementLog) Error(context.Context, string, ...any)    {}

// ParamsFilter keeps the arguments out: they may be personal.
func (l statementLog) ParamsFilter(_ context.Context, sql string, _ ...any) (string, []any) {
	return sql, nil
}

// Trace is called by gorm after every statement.
func (l statementLog) Trace(ctx context.Context, begin time.Time, statement func() (string, int64), err error) {
	if l.observe != nil {
		sql, _ := statement()
		l.observe(sql)
	}
	took := time.Since(begin)
	if took < l.slow || errors.Is(err, context.Canceled) {
		return
	}
	sql, rows := statement()
	l.log.WarnContext(ctx, "slow statement", "ms", took.Milliseconds(), "rows", rows, "sql", sql)
}
