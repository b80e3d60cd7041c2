package fleet

import (
	"bytes"
	"context"
	"crypto/rand"
	"encoding/hex"
	"io"
	"time"
)

// again is how often the engine is told to stop a statement until it does: it may not have begun.
const again = 50 * time.Millisecond

// embedded is a connection to the engine in this process.
type embedded struct {
	lib  *library
	conn uintptr
	mark string   // A comment in every statement, by which it is found to be stopped.
	keys []string // Never to be told.
}

func dialEmbedded(path string, keys []string) (*embedded, error) {
	lib, err := load(path)
	if err != nil {
		return nil, err
	}
	conn, err := lib.enter()
	if err != nil {
		return nil, err
	}
	var name [8]byte
	_, _ = rand.Read(name[:]) // It never fails: the runtime aborts instead.
	return &embedded{lib, conn, "dynolake-" + hex.EncodeToString(name[:]), keys}, nil
}

// close drops all that is temporary.
func (e *embedded) close(context.Context, []string) error {
	e.lib.leave(e.conn)
	return nil
}

func (e *embedded) run(ctx context.Context, statement string) error {
	var err error
	if stopped := e.guard(ctx, func() { err = e.lib.run(e.conn, e.marked(statement)) }); stopped != nil {
		return stopped
	}
	return discreet(err, e.keys)
}

func (e *embedded) ask(ctx context.Context, statement string) (io.ReadCloser, error) {
	a := &answer{ctx: ctx, from: e}
	var said string
	stopped := e.guard(ctx, func() {
		a.stream = e.lib.stream(handleOf(e.conn), e.marked(statement), form)
		said = e.lib.fault(a.stream)
	})
	if stopped == nil && said != "" {
		stopped = discreet(explain(said), e.keys)
	}
	if stopped != nil {
		e.lib.destroy(a.stream)
		return nil, stopped
	}
	return a, nil
}

func (e *embedded) marked(statement string) string { return statement + "\n/* " + e.mark + " */" }

// guard does one call into the engine, and says why it was stopped if it was.
func (e *embedded) guard(ctx context.Context, call func()) error {
	if ctx.Err() != nil {
		return context.Cause(ctx)
	}
	done, ended := make(chan struct{}), make(chan bool)
	go func() {
		select {
		case <-done:
			ended <- false
		case <-ctx.Done():
			e.stop(done)
			ended <- true
		}
	}()
	call()
	close(done)
	if <-ended {
		return context.Cause(ctx)
	}
	return nil
}

// stop tells the engine to stop the statement until it has.
func (e *embedded) stop(done <-chan struct{}) {
	for {
		e.lib.one.Lock()
		_ = e.lib.run(e.lib.control, "KILL QUERY WHERE query LIKE '%/* "+e.mark+" */%' ASYNC") // That it is over already is no fault.
		e.lib.one.Unlock()
		select {
		case <-done:
			return
		case <-time.After(again):
		}
	}
}

// answer reads a running statement chunk by chunk. Each chunk begins with names and types again; they are given once.
type answer struct {
	ctx    context.Context //nolint:containedctx // The statement runs as long as its answer is read.
	from   *embedded
	stream uintptr
	left   []byte
	begun  bool
	ended  bool
	closed bool
}

func (a *answer) Read(into []byte) (int, error) {
	for len(a.left) == 0 {
		if a.ended {
			return 0, io.EOF
		}
		if err := a.next(); err != nil {
			return 0, err
		}
	}
	n := copy(into, a.left)
	a.left = a.left[n:]
	return n, nil
}

func (a *answer) next() error {
	var said string
	stopped := a.from.guard(a.ctx, func() {
		chunk := a.from.lib.fetch(handleOf(a.from.conn), a.stream)
		defer a.from.lib.destroy(chunk)
		said, a.left = a.from.lib.fault(chunk), a.from.lib.bytes(chunk)
	})
	if stopped == nil && said != "" {
		stopped = discreet(explain(said), a.from.keys)
	}
	if stopped != nil {
		a.ended = true
		return stopped
	}
	a.ended = len(a.left) == 0
	if a.begun {
		for range 2 {
			_, a.left, _ = bytes.Cut(a.left, []byte("\n"))
		}
	}
	a.begun = true
	return nil
}

func (a *answer) Close() error {
	if a.closed {
		return nil
	}
	a.closed = true
	if !a.ended {
		a.from.lib.cancel(handleOf(a.from.conn), a.stream)
	}
	a.from.lib.destroy(a.stream)
	return nil
}
