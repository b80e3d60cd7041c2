package main

import (
	"context"
	"errors"
	"math"
	"slices"
	"strings"

	"dynolake/queries/engine"
	"dynolake/queries/packs"
	"dynolake/queries/result"

	"github.com/urfave/cli/v2"
)

func paramFlag() cli.Flag {
	return &cli.StringSliceFlag{Name: "param", Usage: "a parameter of the query, `name=value`; repeat for more"}
}

// parameters reads every --param.
func parameters(c *cli.Context) (map[string]string, error) {
	params := map[string]string{}
	for _, p := range c.StringSlice("param") {
		name, value, ok := strings.Cut(p, "=")
		if !ok {
			return nil, usagef("read --param %q: want name=value", p)
		}
		name = strings.TrimSpace(name)
		if _, twice := params[name]; twice {
			return nil, usagef("read --param %q: %s is given twice; a list is one parameter, such as thresholds=1.0,1.5", p, name)
		}
		params[name] = value
	}
	return params, nil
}

// pick is a choice of a query's columns. Those whose unit stands in the row's own column unit are shown in the units asked for.
type pick struct {
	pack                string
	params              map[string]string
	columns             []string
	values, differences []string
}

// showPick runs a query of ours, shows the columns picked and tells how many rows there were.
func showPick(c *cli.Context, k pick) (int, error) {
	set, err := loadPacks(c)
	if err != nil {
		return 0, err
	}
	p, err := set.Pack(k.pack)
	if err != nil {
		return 0, err
	}
	statement, err := p.SQL(k.params)
	if err != nil {
		return 0, usageError{err}
	}
	if !p.Names(k.params) {
		if rows, ok := kept(c, p, statement); ok {
			return k.show(c, rows, p.Units())
		}
	}
	n := 0
	err = inquire(c, func(ctx context.Context, s engine.Asker) error {
		if err := known(ctx, s, p, k.params); err != nil {
			return err
		}
		rows, err := s.Query(ctx, statement)
		if err == nil {
			n, err = k.show(c, rows, p.Units())
		}
		return err
	})
	return n, err
}

// show prints the columns picked of an answer and tells how many rows it has.
func (k pick) show(c *cli.Context, rows *result.Rows, units map[string]string) (int, error) {
	picked, err := k.of(c, rows)
	if err != nil {
		return 0, err
	}
	return len(picked.rows), show(c, result.Of(picked.columns, picked.rows), units)
}

// known makes a name that the lake does not have a fault of the command line.
func known(ctx context.Context, s engine.Asker, p *packs.Pack, params map[string]string) error {
	err := p.Known(ctx, s, params)
	if unknown := new(packs.Unknown); errors.As(err, &unknown) {
		return usageError{err}
	}
	return err
}

type pickedRows struct {
	columns []result.Column
	rows    [][]any
}

func (k pick) of(c *cli.Context, rows *result.Rows) (pickedRows, error) {
	names, columns := rows.Names(), rows.Columns()
	var out pickedRows
	from := make([]int, len(k.columns))
	for i, name := range k.columns {
		from[i] = slices.Index(names, name)
		out.columns = append(out.columns, columns[from[i]])
	}
	all, err := rows.All()
	if err != nil {
		return out, err
	}
	format, units, err := presentation(c)
	if err != nil {
		return out, err
	}
	people := format == result.Table || format == result.Markdown
	for _, r := range all {
		row := make([]any, len(from))
		for i, at := range from {
			row[i] = r[at]
		}
		if people {
			k.convert(units, row)
		}
		out.rows = append(out.rows, row)
	}
	return out, nil
}

// convert shows a row's values in the units for people.
func (k pick) convert(units result.Units, row []any) {
	at := slices.Index(k.columns, "unit")
	unit, ok := row[at].(string)
	if !ok {
		return
	}
	for i, name := range k.columns {
		difference := slices.Contains(k.differences, name)
		if x, ok := row[i].(float64); ok && (difference || slices.Contains(k.values, name)) {
			shown, u := units.Convert(x, unit, difference)
			row[i], row[at] = math.Round(shown*1e4)/1e4, u
		}
	}
}
