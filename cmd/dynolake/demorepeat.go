package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strconv"

	"dynolake/pipeline"
	"dynolake/pipeline/lake"

	"golang.org/x/sync/errgroup"
)

// repeats brings the visits' repeats beyond the first into the demo's lake. The next one is invented while one is taken in, so
// that three are on disk at the most.
type repeats struct {
	lake   *lake.Lake
	writer *lake.Writer
	recipe *pipeline.Recipe
	write  func(ctx context.Context, dir string, n int) error // Makes the logs of the n-th repeat.
	folder string                                             // Where they lie meanwhile.
	to     int                                                // The number of repeats, with the first.
}

// run adds to done what it did, up to an error.
func (r repeats) run(ctx context.Context, done *pipeline.Result, o pipeline.Options) (err error) {
	if err := os.RemoveAll(r.folder); err != nil { // Of a run that was killed.
		return fmt.Errorf("clear the demo's folder: %w", err)
	}
	defer func() { err = errors.Join(err, os.RemoveAll(r.folder)) }()
	made := make(chan int)
	work, ctx := errgroup.WithContext(ctx)
	work.Go(func() error {
		defer close(made)
		for n := 1; n < r.to; n++ {
			if err := r.write(ctx, r.place(n), n); err != nil {
				return err
			}
			select {
			case made <- n:
			case <-ctx.Done():
				return ctx.Err()
			}
		}
		return nil
	})
	work.Go(func() error {
		for n := range made {
			if err := r.takeIn(ctx, n, done, o); err != nil {
				return err
			}
		}
		return nil
	})
	return work.Wait()
}

func (r repeats) place(n int) string { return filepath.Join(r.folder, strconv.Itoa(n)) }

// takeIn brings one repeat into the lake and removes its logs.
func (r repeats) takeIn(ctx context.Context, n int, done *pipeline.Result, o pipeline.Options) error {
	if show := o.Progress; show != nil {
		o.Progress = func(done, total int) { show((n-1)*total+done, (r.to-1)*total) }
	}
	more, err := pipeline.Ingest(ctx, r.lake, r.writer, r.recipe, []string{filepath.Join(r.place(n), "logs")}, o)
	done.Outcomes = append(done.Outcomes, more.Outcomes...)
	done.Rows += more.Rows
	done.Bytes += more.Bytes
	if err == nil {
		_, err = r.writer.Compact(ctx, lake.Compaction{})
	}
	return errors.Join(err, os.RemoveAll(r.place(n)))
}
