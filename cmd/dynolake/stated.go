package main

import (
	"bytes"
	"context"
	"errors"
	"math"

	"dynolake/pipeline/config"
	"dynolake/pipeline/publish"
	"dynolake/queries/engine"
	"dynolake/queries/result"
	"dynolake/schema"

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

// statedLimits reads the limits of the lake, or of the publication, that a session asks.
func statedLimits(ctx context.Context, s engine.Asker) ([]schema.Limit, error) {
	rows, err := s.Query(ctx, "SELECT entry, quantity, direction, bound, coalesce(vehicle, ''), coalesce(platform, ''), coalesce(duty, ''), coalesce(test, ''), coalesce(note, '') FROM limits ORDER BY entry, direction")
	if err != nil {
		return nil, err
	}
	all, err := rows.All()
	if err != nil {
		return nil, err
	}
	var list []schema.Limit
	last := int64(0)
	for _, r := range all {
		if entry := r[0].(int64); entry != last {
			list = append(list, schema.Limit{Column: r[1].(string), Max: math.NaN(), Min: math.NaN(), Vehicle: r[4].(string), Platform: r[5].(string), Duty: r[6].(string), Test: r[7].(string), Note: r[8].(string)})
			last = entry
		}
		if bound := r[3].(float64); r[2] == "max" {
			list[len(list)-1].Max = bound
		} else {
			list[len(list)-1].Min = bound
		}
	}
	return list, nil
}
