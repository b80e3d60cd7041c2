package engine

import (
	"context"
	"errors"
	"fmt"
	"time"

	duck "github.com/duckdb/duckdb-go-bindings"
)

// ErrTimeout says that a statement ran longer than the session's Timeout.
var ErrTimeout = errors.New("stopped: the statement ran longer than the session allows")

// again is how often an interrupt is repeated until the database heeds it: it forgets one that comes between two steps.
const again = 20 * time.Millisecond

// watch interrupts the database when its context ends or its time is used up.
type watch struct {
	conn    *connection
	limited bool
	left    time.Duration // Of the time for running; reading rows out does not count.
}

// guard does one call into the database, and says why it was interrupted if it was.
func (w *watch) guard(ctx context.Context, call func()) error {
	if ctx.Err() != nil {
		return fmt.Errorf("run the statement: %w", context.Cause(ctx))
	}
	if w.limited && w.left <= 0 {
		return fmt.Errorf("run the statement: %w", ErrTimeout)
	}
	begun := time.Now()
	done, answer := make(chan struct{}), make(chan error, 1)
	go func() { answer <- w.wait(ctx, done) }()
	call()
	took := time.Since(begun)
	close(done)
	err := <-answer // The watcher has read what is left; only then does it change.
	w.left -= took
	return err
}

// wait interrupts the connection again and again from the moment that it should stop until done.
func (w *watch) wait(ctx context.Context, done <-chan struct{}) error {
	var limit <-chan time.Time
	if w.limited {
		timer := time.NewTimer(w.left)
		defer timer.Stop()
		limit = timer.C
	}
	var why error
	select {
	case <-done:
		return nil
	case <-ctx.Done():
		why = context.Cause(ctx)
	case <-limit:
		why = ErrTimeout
	}
	for {
		duck.Interrupt(w.conn.handle)
		select {
		case <-done:
			return fmt.Errorf("run the statement: %w", why)
		case <-time.After(again):
		}
	}
}
