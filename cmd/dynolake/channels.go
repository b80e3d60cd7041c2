package main

import (
	"strings"

	"dynolake/derive"
	"dynolake/queries/result"
	"dynolake/schema"

	"github.com/urfave/cli/v2"
)

func channelsCommand() *cli.Command {
	return &cli.Command{
		Name:  "channels",
		Usage: "the catalogue: column, unit, meaning, measured or derived, formula, source",
		Flags: []cli.Flag{
			&cli.BoolFlag{Name: "standards", Usage: "the correction standards that a run sheet can name"},
			&cli.BoolFlag{Name: "brief", Usage: "column, unit, meaning and formula alone"},
		},
		Action: func(c *cli.Context) error {
			if err := noArguments(c); err != nil {
				return err
			}
			if c.Bool("standards") {
				return show(c, standardRows(), nil)
			}
			if c.Bool("brief") {
				return show(c, briefChannels(), nil)
			}
			return show(c, channelRows(), nil)
		},
	}
}

func channelRows() *result.Rows {
	names := []string{"column", "unit", "meaning", "origin", "formula", "source", "reference", "kind", "lowest", "highest", "field_id"}
	columns := texts(names[:8]...)
	columns = append(columns, result.Column{Name: names[8], Kind: result.Float64}, result.Column{Name: names[9], Kind: result.Float64}, result.Column{Name: names[10], Kind: result.Int})
	var rows [][]any
	for _, col := range schema.Columns() {
		origin := "measured"
		if col.Derived {
			origin = "derived"
		}
		row := []any{col.Name, col.Unit, col.Meaning, origin, orNull(col.Formula), orNull(col.Source), orNull(string(col.Reference)), string(col.Kind), nil, nil, int64(col.ID)}
		if len(col.Range) == 2 {
			row[8], row[9] = col.Range[0], col.Range[1]
		}
		rows = append(rows, row)
	}
	return result.Of(columns, rows)
}

func briefChannels() *result.Rows {
	var rows [][]any
	for _, col := range schema.Columns() {
		how := col.Formula
		if how == "" {
			how = "measured"
		}
		rows = append(rows, []any{col.Name, col.Unit, col.Meaning, how})
	}
	return result.Of(texts("column", "unit", "meaning", "formula"), rows)
}

func standardRows() *result.Rows {
	var rows [][]any
	for _, s := range derive.Standards() {
		rows = append(rows, []any{s.Name, s.Title, s.Formula, s.Validity, s.Source, orNull(s.Caution)})
	}
	return result.Of(texts("standard", "title", "formula", "validity", "source", "caution"), rows)
}

func texts(names ...string) []result.Column {
	columns := make([]result.Column, len(names))
	for i, n := range names {
		columns[i] = result.Column{Name: n, Kind: result.Text}
	}
	return columns
}

func orNull(s string) any {
	if s == "" {
		return nil
	}
	return s
}

func noArguments(c *cli.Context) error {
	if c.Args().Present() {
		return usagef("%s takes no arguments, found %q", strings.TrimPrefix(c.Command.HelpName, "dynolake "), c.Args().First())
	}
	return nil
}
