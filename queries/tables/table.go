package tables

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"io"
	"path/filepath"
	"slices"

	"dynolake/queries/result"

	"golang.org/x/sync/errgroup"
)

// write prints an answer as CSV and as Parquet at once, and notes rows and checksums.
func (t *Table) write(ctx context.Context, d Disk, dir string, rows *result.Rows, units map[string]string) error {
	work, ctx := errgroup.WithContext(ctx)
	tee := &fork{rows: rows, to: make(chan [][]any, 2), stop: ctx.Done()}
	branch := result.New(rows.Columns(), &branch{from: tee.to, stop: ctx.Done()})
	work.Go(func() (err error) {
		t.CSV, err = put(ctx, d, filepath.Join(dir, t.Name+".csv"), result.New(rows.Columns(), tee), result.CSV, units)
		return err
	})
	work.Go(func() (err error) {
		t.Parquet, err = put(ctx, d, filepath.Join(dir, t.Name+".parquet"), branch, result.Parquet, units)
		return err
	})
	err := work.Wait()
	t.Rows = tee.n
	return err
}

func put(ctx context.Context, d Disk, path string, rows *result.Rows, f result.Format, units map[string]string) (string, error) {
	sum := sha256.New()
	err := save(d, path, func(w io.Writer) error {
		return result.Write(ctx, io.MultiWriter(w, sum), rows, f, result.Options{Declared: units})
	})
	return hex.EncodeToString(sum.Sum(nil)), err
}

// together is how many rows go from a fork to its branch at once: handing over each by itself took as long as writing it.
const together = 256

// fork gives the rows on and sends a copy of each.
type fork struct {
	rows *result.Rows
	to   chan [][]any
	stop <-chan struct{}
	held [][]any // Those that are not yet sent.
	n    int
	over bool
}

// Next fills dst with the next row.
func (f *fork) Next(dst []any) error {
	if !f.rows.Next() {
		if err := f.rows.Err(); err != nil {
			f.end()
			return err
		}
		if err := f.send(); err != nil {
			return err
		}
		f.end()
		return io.EOF
	}
	copy(dst, f.rows.Row())
	f.held = append(f.held, slices.Clone(dst))
	f.n++
	if len(f.held) < together {
		return nil
	}
	return f.send()
}

func (f *fork) send() error {
	select {
	case f.to <- f.held:
		f.held = make([][]any, 0, together)
		return nil
	case <-f.stop:
		return context.Canceled
	}
}

func (f *fork) end() {
	if !f.over {
		f.over = true
		close(f.to)
	}
}

// Close ends the statement.
func (f *fork) Close() error {
	f.end()
	return f.rows.Close()
}

// branch gives the rows that a fork sends.
type branch struct {
	from <-chan [][]any
	stop <-chan struct{}
	held [][]any
}

// Next fills dst with the next row.
func (b *branch) Next(dst []any) error {
	for len(b.held) == 0 {
		select {
		case rows, ok := <-b.from:
			if !ok {
				return io.EOF
			}
			b.held = rows
		case <-b.stop:
			return context.Canceled
		}
	}
	copy(dst, b.held[0])
	b.held = b.held[1:]
	return nil
}

// Close does nothing: the fork owns the rows.
func (*branch) Close() error { return nil }
