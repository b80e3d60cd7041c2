package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"runtime/debug"
	"time"

	"dynolake/cmd/dynolake/night"
	"dynolake/pipeline"
	"dynolake/pipeline/config"
	"dynolake/pipeline/lake"
	"dynolake/queries/engine"
	"dynolake/queries/tables"
	"dynolake/schema"

	"github.com/urfave/cli/v2"
)

// errLimit ends a refresh that found a limit passed, where the caller asked to be told.
var errLimit = errors.New("a limit is passed")

func refreshCommand() *cli.Command {
	return &cli.Command{
		Name:  "refresh",
		Usage: "the night's work: take in what lies in LAKE/inbox, bring the comparison tables and the report up to date, say what is new",
		Description: "A file that still changes between two looks a second apart waits for the next time. What was ingested leaves the inbox (its bytes are\n" +
			"in the archive), what cannot be used goes to inbox/refused/ with the reason beside it. Incremental, and safe to kill.\n" +
			"Exit 3 when inputs were set aside; 4 with --fail-on-limit when a limit of limits.yaml is passed, which wins over 3.",
		Flags:  []cli.Flag{&cli.BoolFlag{Name: "fail-on-limit", Usage: "exit 4 when a vehicle passes a limit", DisableDefaultText: true}, memoryFlag()},
		Action: refresh,
	}
}

func refresh(c *cli.Context) error {
	if err := noArguments(c); err != nil {
		return err
	}
	return holding(c, func(l *lake.Lake, w *lake.Writer, recipe *pipeline.Recipe) error {
		inbox := filepath.Join(l.Root(), "inbox")
		taken, _, err := making(func(l *lake.Lake, w *lake.Writer, r *pipeline.Recipe, o pipeline.Options) (pipeline.Result, error) {
			return pipeline.TakeIn(c.Context, l, w, r, inbox, o)
		}).run(c, l, w, recipe)
		if err != nil {
			return err
		}
		if err := tidy(c, w); err != nil {
			return err
		}
		work, n, err := renew(c, l, recipe.Config, taken)
		if err != nil {
			return err
		}
		return errors.Join(tellNews(c, work, n), refreshed(c, work, taken))
	})
}

// nightly is what the row groups of one merge may take in a refresh, bytes: half of what a compaction takes by itself, so that the tables take the most.
const nightly = 96 << 20

// tidy merges small files where reading them costs more than that, so that the tables are made from the larger ones.
func tidy(c *cli.Context, w *lake.Writer) error {
	budget, err := memory(c)
	if err != nil {
		return err
	}
	debug.FreeOSMemory() // What reading logs took is garbage now, and would lie beside what merging takes.
	done, err := w.Compact(c.Context, lake.Compaction{Memory: cmp.Or(forMerges(budget), nightly)})
	if err == nil && done.Before > 0 {
		say(c, "%s became %s", plural(done.Before, "file", "files"), plural(done.After, "larger one", "larger ones"))
	}
	return err
}

// renew brings tables and report up to the lake as it is now, and keeps what the next refresh compares with.
func renew(c *cli.Context, l *lake.Lake, conf config.Config, taken pipeline.Result) (*night.Work, night.News, error) {
	debug.FreeOSMemory() // What reading logs took is of no use to the database, which asks the system for its own: 0.1 GB of the peak.
	work, err := newWork(c, l, conf)
	if err == nil {
		err = work.Tables(c.Context)
	}
	if err != nil {
		return nil, night.News{}, err
	}
	for _, p := range work.Written.Problems {
		fmt.Fprintf(c.App.ErrWriter, "dynolake: left out: %v\n", p)
	}
	n := work.News(taken)
	if err := renewReport(c, work, conf, n); err != nil {
		return nil, n, err
	}
	work.Now.At = time.Now().UTC().Truncate(time.Second)
	return work, n, work.Now.Write(l.Disk(), l.Root())
}

// newWork gathers what the tables are made from.
func newWork(c *cli.Context, l *lake.Lake, conf config.Config) (*night.Work, error) {
	snap, err := l.Snapshot(c.Context)
	if err != nil {
		return nil, err
	}
	contents, err := l.Contents(c.Context)
	if err != nil {
		return nil, err
	}
	set, err := loadPacks(c)
	if err != nil {
		return nil, err
	}
	in := tables.Inputs{Snapshot: snap, Contents: contents, Vehicles: vehicles(conf), Limits: conf.Limits, Columns: columns(conf)}
	return &night.Work{Lake: l, Packs: set, Inputs: in, Was: night.Read(l.Root()), Open: opener(c, snap, conf)}, nil
}

// leastForTables is what computing the tables may hold, bytes; beyond it temporary files serve. Over 12,500 runs a refresh then held 0.7 GB and took 49 s, with
// twice as much 1.0 GB and 46 s. A table that wants more gets more, up to the stated budget.
const leastForTables = 128 << 20

// forTables is what a session may hold that has so many times the usual memory, bytes; 0 for all that the engine takes by itself.
func forTables(budget, times int64) int64 {
	room := times * max(budget/16, leastForTables)
	switch {
	case budget > 0:
		return min(room, max(budget, leastForTables))
	case room > 4<<30: // The machine may have less.
		return 0
	}
	return room
}

// opener opens sessions in which sums are formed in one order.
func opener(c *cli.Context, snap schema.Snapshot, conf config.Config) func(context.Context, []string, int64) (*engine.Session, error) {
	told := false
	return func(ctx context.Context, part []string, times int64) (*engine.Session, error) {
		budget, err := memory(c)
		if err != nil {
			return nil, err
		}
		s, err := engine.Open(ctx, snap, engine.Options{Vehicles: vehicles(conf), Limits: conf.Limits, Columns: columns(conf), Part: part, Memory: forTables(budget, times), Threads: 1})
		if err == nil && !told {
			told = true
			leftOut(c, conf, s)
		}
		return s, err
	}
}

// refreshed gives the refresh its exit code.
func refreshed(c *cli.Context, work *night.Work, taken pipeline.Result) error {
	switch {
	case c.Bool("fail-on-limit") && len(work.Now.Passed) > 0:
		return errLimit
	case taken.Count("set aside") > 0:
		return errSetAside
	}
	return nil
}
