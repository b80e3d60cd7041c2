package main

import (
	"fmt"
	"strconv"
	"strings"

	"dynolake/derive"
	"dynolake/queries/result"
	"dynolake/schema"

	"github.com/urfave/cli/v2"
)

func channelsCommand() *cli.Command {
	return &cli.Command{
		Name:      "channels",
		Usage:     "the catalogue: column, unit, meaning, measured or derived, formula, validity, source; with a column's name all of that one",
		ArgsUsage: "[COLUMN]",
		Flags: []cli.Flag{
			&cli.BoolFlag{Name: "standards", Usage: "the correction standards that a run sheet can name"},
			&cli.BoolFlag{Name: "brief", Usage: "column, unit, meaning and formula alone"},
			&cli.BoolFlag{Name: "macros", Usage: "the functions that SQL has here beside its own: bins, quantiles, units"},
		},
		Action: func(c *cli.Context) error {
			switch {
			case c.NArg() > 1 || c.NArg() == 1 && (c.Bool("standards") || c.Bool("brief") || c.Bool("macros")):
				return usagef("channels takes one column's name or an option, found %q", c.Args().First())
			case c.Bool("standards"):
				return show(c, standardRows(), nil)
			case c.Bool("macros"):
				return show(c, macroRows(), nil)
			}
			own, err := userColumns(c)
			if err != nil {
				return err
			}
			format, _, err := presentation(c)
			switch {
			case err != nil:
				return err
			case c.NArg() == 1:
				return showChannel(c, c.Args().First(), own)
			case c.Bool("brief"):
				return show(c, briefChannels(own), nil)
			case format == result.Table:
				return show(c, narrowChannels(own), nil)
			}
			return show(c, channelRows(own), nil)
		},
	}
}

// channelRows has everything that the catalogue says, a row a column.
func channelRows(own []userColumn) *result.Rows {
	columns := texts("column", "unit", "meaning", "origin", "formula", "source", "reference", "kind")
	columns = append(columns, result.Column{Name: "lowest", Kind: result.Float64}, result.Column{Name: "highest", Kind: result.Float64}, result.Column{Name: "field_id", Kind: result.Int})
	columns = append(columns, texts("validity", "inputs")...)
	var rows [][]any
	for _, col := range schema.Columns() {
		row := []any{col.Name, col.Unit, col.Meaning, origin(col), orNull(col.Formula), orNull(col.Source), orNull(string(col.Reference)), string(col.Kind), nil, nil, int64(col.ID), orNull(col.Validity), orNull(strings.Join(col.Inputs, ", "))}
		if len(col.Range) == 2 {
			row[8], row[9] = col.Range[0], col.Range[1]
		}
		rows = append(rows, row)
	}
	for _, u := range own {
		rows = append(rows, []any{u.Name, orNull(u.Unit), orNull(u.Meaning), "user", u.formula(), ownSource, nil, nil, nil, nil, nil, orNull("in " + strings.Join(u.views, ", ")), nil})
	}
	return result.Of(columns, rows)
}

// ownSource is where the user's columns are declared.
const ownSource = "config/columns.yaml"

// narrowChannels is what a terminal has room for.
func narrowChannels(own []userColumn) *result.Rows {
	var rows [][]any
	for _, col := range schema.Columns() {
		rows = append(rows, []any{col.Name, col.Unit, origin(col), col.Meaning, orNull(col.Formula), orNull(col.Validity), orNull(col.Source)})
	}
	for _, u := range own {
		rows = append(rows, []any{u.Name, orNull(u.Unit), "user", orNull(u.Meaning), u.formula(), "in " + strings.Join(u.views, ", "), ownSource})
	}
	return result.Of(texts("column", "unit", "origin", "meaning", "formula", "validity", "source"), rows)
}

func origin(c schema.Column) string {
	if c.Derived {
		return "derived"
	}
	return "measured"
}

// showChannel prints all that is known of one column, a row a fact.
func showChannel(c *cli.Context, name string, own []userColumn) error {
	col, ok := schema.Lookup(name)
	if !ok {
		var names []string
		for _, u := range own {
			if u.Name == name {
				return show(c, result.Of(texts("field", "value"), [][]any{{"column", u.Name}, {"unit", orNull(u.Unit)}, {"meaning", orNull(u.Meaning)}, {"origin", "user"},
					{"formula", u.formula()}, {"views", strings.Join(u.views, ", ")}, {"source", ownSource}}), nil)
			}
			names = append(names, u.Name)
		}
		for _, c := range schema.Columns() {
			names = append(names, c.Name)
		}
		return usagef("no column %q%s; dynolake channels lists them", name, nearest(name, names))
	}
	rows := [][]any{{"column", col.Name}, {"unit", col.Unit}, {"meaning", col.Meaning}, {"origin", origin(col)}, {"kind", string(col.Kind)}}
	add := func(field, value string) {
		if value != "" {
			rows = append(rows, []any{field, value})
		}
	}
	add("reference", string(col.Reference))
	add("values", strings.Join(col.Values, ", "))
	if len(col.Range) == 2 {
		add("plausible", fmt.Sprintf("from %g to %g", col.Range[0], col.Range[1]))
	}
	add("formula", col.Formula)
	add("validity", col.Validity)
	for _, in := range col.Inputs {
		add("input", sensitivity(in, col.Unit))
	}
	add("source", col.Source)
	add("aliases", strings.Join(col.Aliases, ", "))
	add("field_id", strconv.Itoa(col.ID))
	return show(c, result.Of(texts("field", "value"), rows), nil)
}

// sensitivity says in words what an input's entry means.
func sensitivity(entry, unit string) string {
	name, factor, constant := strings.Cut(entry, " ")
	if !constant {
		return name
	}
	from, _ := schema.Lookup(name)
	return fmt.Sprintf("%s, %s %s a %s", name, factor, unit, from.Unit)
}

func briefChannels(own []userColumn) *result.Rows {
	var rows [][]any
	for _, col := range schema.Columns() {
		how := col.Formula
		if how == "" {
			how = "measured"
		}
		rows = append(rows, []any{col.Name, col.Unit, col.Meaning, how})
	}
	for _, u := range own {
		rows = append(rows, []any{u.Name, orNull(u.Unit), orNull(u.Meaning), u.formula()})
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
