package lake

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"sync"
)

// Writer is the right to change a lake. There is one at a time. Its methods are safe for several goroutines; Close comes last.
type Writer struct {
	lake     *Lake
	lock     *lock
	commits  sync.Mutex // One commit after the other.
	mu       sync.Mutex
	archived map[string]Blob // Guarded by mu.
	swept    Swept
}

// Write takes the lake's lock for who, a command as people know it, and sweeps what earlier writers left. It fails with a
// *HeldError while another process writes. A lock whose holder died is taken over; Left says whose it was.
func (l *Lake) Write(ctx context.Context, who string) (*Writer, error) {
	held, err := acquire(ctx.Done(), l.root, me(l.clock(), who))
	if err != nil {
		return nil, cmp.Or(ctx.Err(), err)
	}
	l.held.Store(held)
	w := &Writer{lake: l, lock: held, archived: map[string]Blob{}}
	if err := l.migrate(ctx); err != nil {
		return nil, errors.Join(err, held.release())
	}
	if w.swept, err = l.sweep(ctx); err != nil {
		return nil, errors.Join(fmt.Errorf("sweep the lake: %w", err), held.release())
	}
	return w, nil
}

// Left is the writer before this one, if it died without letting go of the lock.
func (w *Writer) Left() (Holder, bool) {
	if w.lock.left == nil {
		return Holder{}, false
	}
	return *w.lock.left, true
}

// Swept says what Write cleared away.
func (w *Writer) Swept() Swept { return w.swept }

// Close lets go of the lake.
func (w *Writer) Close() error {
	_, err := w.lake.db.Exec(`PRAGMA wal_checkpoint(PASSIVE)`)
	if err != nil {
		err = fmt.Errorf("checkpoint the catalogue: %w", err)
	}
	w.lake.held.Store(nil)
	return errors.Join(err, w.lock.release())
}
