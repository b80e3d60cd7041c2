package main

import (
	"context"
	"errors"
	"os"
	"strings"

	"dynolake/pipeline/config"
	"dynolake/pipeline/publish"
	"dynolake/queries/engine"
	"dynolake/queries/fleet"

	"github.com/urfave/cli/v2"
)

// ownEngine names the engine that a lake is asked with; it reads published folders too.
const ownEngine = "duckdb"

// placeFlags say what is asked in place of the lake, and with which engine.
func placeFlags() []cli.Flag {
	return []cli.Flag{
		&cli.StringFlag{Name: "of", Usage: "ask what dynolake publish --as parquet wrote to `PLACE`, a folder or s3://bucket/prefix, instead of the lake", TakesFile: true},
		&cli.StringFlag{Name: "engine", Usage: "what answers of PLACE: `ENGINE` is duckdb (folders alone), clickhouse (the library that $" + fleet.LibraryVariable + " names) or a ClickHouse server's address, http://user@host:8123/database",
			DefaultText: "duckdb for a folder, clickhouse for a bucket"},
		&cli.StringFlag{Name: "memory", Usage: "the `SIZE` of memory that a statement may hold, such as 8 GiB", DefaultText: "as the engine has it"},
	}
}

// checkPlace refuses what does not go together, before anything is opened.
func checkPlace(c *cli.Context) error {
	if _, err := memory(c); err != nil {
		return err
	}
	if c.String("of") == "" {
		if c.IsSet("engine") || c.IsSet("of") {
			return usagef("--engine goes with --of PLACE: the lake itself is asked with duckdb; `dynolake publish PLACE --as parquet` makes a PLACE for other engines")
		}
		return nil
	}
	bucket := strings.HasPrefix(strings.ToLower(c.String("of")), "s3://")
	switch e := engineOf(c); {
	case e == ownEngine && bucket:
		return usagef("read --engine duckdb: it reads folders alone; a bucket is asked with --engine clickhouse or a server's address")
	case e != ownEngine && c.Bool("explain"):
		return usagef("--explain tells how duckdb runs a query: leave --engine away")
	case e != ownEngine && e != fleet.Embedded:
		if err := fleet.CheckAddress(e); err != nil {
			if !strings.Contains(e, "://") {
				return usagef("read --engine %q: want duckdb, clickhouse or a server's address such as http://user@host:8123/database%s", e, nearest(e, []string{ownEngine, fleet.Embedded}))
			}
			return usageError{err}
		}
	}
	return nil
}

// engineOf is the engine that a published place is asked with.
func engineOf(c *cli.Context) string {
	switch e := c.String("engine"); {
	case e != "":
		return e
	case strings.HasPrefix(strings.ToLower(c.String("of")), "s3://"):
		return fleet.Embedded
	}
	return ownEngine
}

// inquire opens a session over the lake, or over the place that --of names, runs do and closes it.
func inquire(c *cli.Context, do func(context.Context, engine.Asker) error) error {
	return inquireOf(c, engine.Options{}, do)
}

// inquireOf is inquire with some of a session's options, where it is the lake that is asked.
func inquireOf(c *cli.Context, o engine.Options, do func(context.Context, engine.Asker) error) (err error) {
	if c.String("of") == "" {
		return askOf(c, o, func(ctx context.Context, s *engine.Session) error { return do(ctx, s) })
	}
	budget, err := memory(c)
	if err != nil {
		return err
	}
	p, err := publish.Look(c.Context, c.String("of"), os.Getenv)
	if err != nil {
		return err
	}
	if engineOf(c) == ownEngine {
		s, err := openSession(c, p.Snapshot, config.Config{}, engine.Options{Timeout: c.Duration("timeout"), Memory: budget})
		if err != nil {
			return err
		}
		return errors.Join(do(c.Context, s), s.Close())
	}
	if p.Access.Secret != "" && fleet.Overheard(engineOf(c)) {
		say(c, "the bucket's keys and the answer go to the server unencrypted: use https:// where others can listen")
	}
	s, err := fleet.Open(c.Context, p.Snapshot, fleet.Options{Engine: engineOf(c), Bucket: fleet.Bucket(p.Access), Env: os.Getenv, Timeout: c.Duration("timeout"), Memory: budget})
	if err != nil {
		return err
	}
	return errors.Join(do(c.Context, s), s.Close())
}
