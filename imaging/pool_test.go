package imaging_test

import (
	"context"
	"errors"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"

	"github.com/stretchr/testify/require"

	"storeyrod/imaging"
)

func TestThePoolNeverHoldsMoreThanItsBudget(t *testing.T) {
	t.Parallel()
	pool := imaging.NewPool(30)
	var now, most atomic.Int64
	var wg sync.WaitGroup
	for range 200 {
		wg.Go(func() {
			require.NoError(t, pool.Do(t.Context(), 10, func() error {
				held := now.Add(10)
				for seen := most.Load(); held > seen && !most.CompareAndSwap(seen, held); seen = most.Load() {
				}
				now.Add(-10)
				return nil
			}))
		})
	}
	wg.Wait()
	require.LessOrEqual(t, most.Load(), int64(30))
}

func TestAPictureOverTheWholeBudgetRunsAlone(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		pool := imaging.NewPool(30)
		release := make(chan struct{})
		var second atomic.Bool
		go func() { _ = pool.Do(t.Context(), 1_000_000, func() error { <-release; return nil }) }()
		synctest.Wait()
		go func() { _ = pool.Do(t.Context(), 1, func() error { second.Store(true); return nil }) }()
		synctest.Wait()
		require.False(t, second.Load())
		close(release)
		synctest.Wait()
		require.True(t, second.Load())
	})
}

func TestWaitingForThePoolEndsWithTheContext(t *testing.T) {
	t.Parallel()
	pool := imaging.NewPool(1)
	ctx, cancel := context.WithCancel(t.Context())
	err := pool.Do(t.Context(), 1, func() error {
		cancel()
		return pool.Do(ctx, 1, func() error { return nil })
	})
	require.ErrorIs(t, err, context.Canceled)
}

func TestThePoolPassesOnTheErrorAndGivesItsRoomBack(t *testing.T) {
	t.Parallel()
	pool := imaging.NewPool(1)
	fault := errors.New("fault")
	require.ErrorIs(t, pool.Do(t.Context(), 1, func() error { return fault }), fault)
	require.NoError(t, pool.Do(t.Context(), 1, func() error { return nil }))
}
