package engine

import (
	"context"
	"errors"
	"io"

	duck "github.com/duckdb/duckdb-go-bindings"

	"dynolake/queries/result"
)

// cursor reads a running statement chunk by chunk; the database computes no further than a little ahead of the reader.
type cursor struct {
	ctx      context.Context //nolint:containedctx // The statement runs as long as its rows are read.
	watch    watch
	prepared duck.PreparedStatement
	res      duck.Result
	columns  []result.Column
	shapes   []shape
	chunk    [][]any // By column.
	size, at int
	done     func() // Frees what the owner lent.
}

// start runs a statement up to its first rows.
func (c *connection) start(ctx context.Context, statement string, args []argument, w watch) (*cursor, error) {
	cur := &cursor{ctx: ctx, watch: w, done: func() {}}
	var err error
	if e := cur.watch.guard(ctx, func() { cur.prepared, err = c.prepare(statement, args) }); e != nil || err != nil {
		if err == nil {
			duck.DestroyPrepare(&cur.prepared)
		}
		return nil, first(e, err)
	}
	if e := cur.watch.guard(ctx, func() { err = cur.execute(statement) }); e != nil || err != nil {
		return nil, errors.Join(first(e, err), cur.Close())
	}
	if err := cur.describe(); err != nil {
		return nil, errors.Join(err, cur.Close())
	}
	return cur, nil
}

// first gives why a call was interrupted, else what it found.
func first(interrupted, found error) error {
	if interrupted != nil {
		return interrupted
	}
	return found
}

func (c *cursor) execute(statement string) error {
	var pending duck.PendingResult
	defer duck.DestroyPending(&pending)
	if duck.PendingPreparedStreaming(c.prepared, &pending) == duck.StateError {
		return explain(duck.PendingError(pending), statement)
	}
	if duck.ExecutePending(pending, &c.res) == duck.StateError {
		return explain(duck.ResultError(&c.res), statement)
	}
	return nil
}

func (c *cursor) describe() error {
	n := int(duck.ColumnCount(&c.res))
	c.columns, c.shapes, c.chunk = make([]result.Column, n), make([]shape, n), make([][]any, n)
	for i := range n {
		logical := duck.ColumnLogicalType(&c.res, duck.IdxT(i))
		name := duck.ColumnName(&c.res, duck.IdxT(i))
		var err error
		c.shapes[i], err = shapeOf(logical)
		duck.DestroyLogicalType(&logical)
		if err != nil {
			return &Refused{Why: "column " + name + " " + err.Error()}
		}
		c.columns[i] = result.Column{Name: name, Kind: c.shapes[i].kind, Scale: c.shapes[i].scale}
	}
	return nil
}

func (c *cursor) rows() *result.Rows { return result.New(c.columns, c) }

// Next fills dst with the next row.
func (c *cursor) Next(dst []any) error {
	for c.at == c.size {
		if err := c.fetch(); err != nil {
			return err
		}
	}
	for i, column := range c.chunk {
		dst[i] = column[c.at]
	}
	c.at++
	return nil
}

// fetch reads the next chunk into memory of ours; io.EOF comes after the last.
func (c *cursor) fetch() error {
	chunk, err := c.next()
	for n := 0; isInterrupt(err) && n < tries; n++ {
		err = c.cause(err)
	}
	if err != nil {
		return err
	}
	defer duck.DestroyDataChunk(&chunk)
	c.at, c.size = 0, int(duck.DataChunkGetSize(chunk))
	for i := range c.shapes {
		c.chunk[i] = c.shapes[i].read(duck.DataChunkGetVector(chunk, duck.IdxT(i)), c.size)
	}
	return nil
}

// next asks for the next chunk; io.EOF comes after the last.
func (c *cursor) next() (chunk duck.DataChunk, err error) {
	if err := c.watch.guard(c.ctx, func() { chunk = duck.FetchChunk(c.res) }); err != nil {
		duck.DestroyDataChunk(&chunk)
		return chunk, err
	}
	if chunk.Ptr != nil {
		return chunk, nil
	}
	if said := duck.ResultError(&c.res); said != "" {
		return chunk, explain(said, "")
	}
	return chunk, io.EOF
}

// tries is how often a statement is asked again why it ended.
const tries = 3

// isInterrupt reports whether the database says that it was interrupted, though nobody did: one thread of it that meets an error stops the others, and of a
// hundred such ends some two tell what those say.
func isInterrupt(err error) bool {
	f := new(Fault)
	return errors.As(err, &f) && f.Kind == "INTERRUPT"
}

// cause runs the statement again up to its error, for what is wrong with it; its rows were handed on already.
func (c *cursor) cause(was error) error {
	duck.DestroyResult(&c.res)
	var err error
	if e := c.watch.guard(c.ctx, func() { err = c.execute("") }); e != nil || err != nil {
		return first(e, err)
	}
	for {
		chunk, err := c.next()
		if errors.Is(err, io.EOF) {
			return was
		}
		if err != nil {
			return err
		}
		duck.DestroyDataChunk(&chunk)
	}
}

// Close ends the statement.
func (c *cursor) Close() error {
	duck.DestroyResult(&c.res)
	duck.DestroyPrepare(&c.prepared)
	c.done()
	c.done = func() {}
	return nil
}
