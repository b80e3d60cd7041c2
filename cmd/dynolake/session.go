package main

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"

	"dynolake/pipeline/config"
	"dynolake/pipeline/lake"
	"dynolake/queries/engine"
	"dynolake/queries/packs"
	"dynolake/queries/result"
	"dynolake/schema"

	"github.com/urfave/cli/v2"
)

// openLake opens the lake that the options name.
func openLake(c *cli.Context) (*lake.Lake, error) { return lake.Open(c.Context, lakePath(c)) }

// ask opens a session over the lake as it is now, runs do and closes both.
func ask(c *cli.Context, runs []string, do func(context.Context, *engine.Session) error) (err error) {
	l, err := openLake(c)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, l.Close()) }()
	snap, err := l.Snapshot(c.Context)
	if err != nil {
		return err
	}
	conf, err := config.Load(configDir(c))
	if err != nil {
		return err
	}
	vehicles := make([]schema.Vehicle, len(conf.Vehicles))
	for i, v := range conf.Vehicles {
		vehicles[i] = v.Vehicle
	}
	s, err := engine.Open(c.Context, snap, engine.Options{Vehicles: vehicles, Limits: conf.Limits, Runs: runs, Timeout: c.Duration("timeout")})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	return do(c.Context, s)
}

func configDir(c *cli.Context) string { return filepath.Join(lakePath(c), "config") }

// loadPacks reads our packs and the lake's own; broken ones of the user are named on stderr and left out.
func loadPacks(c *cli.Context) (*packs.Set, error) {
	set, err := packs.Load(filepath.Join(configDir(c), "packs"))
	if err != nil {
		return nil, err
	}
	for _, p := range set.Problems {
		fmt.Fprintf(c.App.ErrWriter, "dynolake: left out: %v\n", p)
	}
	return set, nil
}

// answer runs one statement and prints its rows.
func answer(c *cli.Context, runs []string, statement string, units map[string]string) error {
	return ask(c, runs, func(ctx context.Context, s *engine.Session) error {
		rows, err := s.Query(ctx, statement)
		if err != nil {
			return err
		}
		return show(c, rows, units)
	})
}

// print shows rows that are held in memory.
func printTable(c *cli.Context, columns []result.Column, rows [][]any) error {
	return show(c, result.Of(columns, rows), nil)
}
