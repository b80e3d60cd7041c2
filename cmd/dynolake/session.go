package main

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"slices"

	"dynolake/pipeline/config"
	"dynolake/pipeline/lake"
	"dynolake/queries/engine"
	"dynolake/queries/packs"
	"dynolake/queries/result"
	"dynolake/schema"

	"github.com/urfave/cli/v2"
)

// openLake opens the lake that the options name.
func openLake(c *cli.Context) (*lake.Lake, error) {
	return lake.Open(c.Context, lakePath(c), lake.WithDisk(diskOf(c)))
}

// ask opens a session over the lake as it is now, runs do and closes it. The database is opened and the configuration read while the catalogue is looked into.
func ask(c *cli.Context, runs []string, do func(context.Context, *engine.Session) error) error {
	return askOf(c, engine.Options{Runs: runs}, do)
}

// askOf is ask with some of a session's options.
func askOf(c *cli.Context, o engine.Options, do func(context.Context, *engine.Session) error) (err error) {
	defer unhurried()()
	budget, err := memory(c)
	if err != nil {
		return err
	}
	o.Timeout, o.Memory = c.Duration("timeout"), budget
	o.Begun = engine.Begin(c.Context, o)
	defer func() { err = errors.Join(err, o.Begun.Drop()) }()
	stated := meanwhile(func() (config.Config, error) { return config.Load(configDir(c)) })
	snap, err := look(c)
	if err != nil {
		return err
	}
	conf, err := stated()
	if err != nil {
		return err
	}
	s, err := openSession(c, snap, conf, o)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.Leave()) }()
	return do(c.Context, s)
}

// look gives the newest snapshot of the lake that the options name. Its files stay for the grace period, so nothing is kept open.
func look(c *cli.Context) (snap schema.Snapshot, err error) {
	l, err := openLake(c)
	if err != nil {
		return snap, err
	}
	defer func() { err = errors.Join(err, l.Close()) }()
	return l.Snapshot(c.Context)
}

// meanwhile starts a piece of work and gives the function that waits for its outcome.
func meanwhile[T any](do func() (T, error)) func() (T, error) {
	var result T
	var err error
	done := make(chan struct{})
	go func() {
		defer close(done)
		result, err = do()
	}()
	return func() (T, error) {
		<-done
		return result, err
	}
}

// openSession starts a session with the lake's configuration and names the user's columns that are left out.
func openSession(c *cli.Context, snap schema.Snapshot, conf config.Config, o engine.Options) (*engine.Session, error) {
	o.Vehicles, o.Limits, o.Columns = vehicles(conf), conf.Limits, columns(conf)
	s, err := engine.Open(c.Context, snap, o)
	if err != nil {
		return nil, err
	}
	leftOut(c, conf, s)
	return s, nil
}

// leftOut names on stderr the user's columns that cannot be used.
func leftOut(c *cli.Context, conf config.Config, s *engine.Session) {
	for _, p := range conf.Problems {
		fmt.Fprintf(c.App.ErrWriter, "dynolake: left out: %v\n", p)
	}
	for _, f := range s.Faults() {
		i := slices.IndexFunc(conf.Columns, func(u config.UserColumn) bool { return u.Name == f.Name })
		fmt.Fprintf(c.App.ErrWriter, "dynolake: left out: %v\n", conf.Columns[i].Fault(f.Line, f.Column, f.Text))
	}
}

func vehicles(conf config.Config) []schema.Vehicle {
	list := make([]schema.Vehicle, len(conf.Vehicles))
	for i, v := range conf.Vehicles {
		list[i] = v.Vehicle
	}
	return list
}

func columns(conf config.Config) []engine.UserColumn {
	list := make([]engine.UserColumn, len(conf.Columns))
	for i, u := range conf.Columns {
		list[i] = engine.UserColumn{Name: u.Name, Unit: u.Unit, Formula: u.Formula, Meaning: u.Meaning}
	}
	return list
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

// print shows rows that are held in memory.
func printTable(c *cli.Context, columns []result.Column, rows [][]any) error {
	return show(c, result.Of(columns, rows), nil)
}
