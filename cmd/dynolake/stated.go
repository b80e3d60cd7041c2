package main

import (
	"bytes"
	"context"
	"errors"

	"dynolake/pipeline/config"
	"dynolake/pipeline/publish"
	"dynolake/queries/engine"
	"dynolake/queries/result"

	"github.com/urfave/cli/v2"
)

// statedTables are the lake's vehicles and limits as tables, so that what is published can be asked without the lake.
func statedTables(c *cli.Context) (list []publish.Stated, err error) {
	conf, err := config.Load(configDir(c))
	if err != nil {
		return nil, err
	}
	s, err := engine.OpenTables(c.Context, nil, engine.Options{Vehicles: vehicles(conf), Limits: conf.Limits, Threads: 1})
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	for _, view := range []struct{ name, order string }{{"vehicles", "id"}, {"limits", "entry, direction"}} {
		t, err := statedTable(c.Context, s, view.name, view.order)
		if err != nil {
			return nil, err
		}
		list = append(list, t)
	}
	return list, nil
}

func statedTable(ctx context.Context, s *engine.Session, view, order string) (t publish.Stated, err error) {
	rows, err := s.Query(ctx, "SELECT * FROM "+view+" ORDER BY "+order)
	if err != nil {
		return t, err
	}
	columns := rows.Columns()
	all, err := rows.All()
	if err != nil {
		return t, err
	}
	t = publish.Stated{Name: view, Rows: int64(len(all))}
	units := map[string]string{}
	for _, col := range engine.Views()[view] {
		t.Columns = append(t.Columns, publish.StatedColumn{Name: col.Name, Type: col.Type, Unit: col.Unit, Meaning: col.Meaning})
		units[col.Name] = col.Unit
	}
	var text bytes.Buffer
	err = result.Write(ctx, &text, result.Of(columns, all), result.Parquet, result.Options{Declared: units})
	t.Content = text.Bytes()
	return t, err
}
