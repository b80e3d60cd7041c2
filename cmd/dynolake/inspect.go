package main

import (
	"errors"
	"fmt"
	"math"
	"os"

	"dynolake/pipeline"
	"dynolake/pipeline/sheet"
	"dynolake/queries/result"

	"github.com/urfave/cli/v2"
)

func inspectCommand() *cli.Command {
	return &cli.Command{
		Name:        "inspect",
		Usage:       "read logs and write nothing: form, clocks, channels, units, rate, the proposed column for each, and why",
		ArgsUsage:   "FILE…",
		Description: "Uses the lake's vehicles and mappings where there is a lake. What was guessed, repaired or contested is told on stderr.",
		Action:      inspect,
	}
}

func inspect(c *cli.Context) error {
	if !c.Args().Present() {
		return usagef("inspect wants at least one file")
	}
	recipe, err := pipeline.LoadRecipe(configDir(c))
	if err != nil {
		return err
	}
	for _, p := range c.Args().Slice() {
		if _, err := os.Stat(p); errors.Is(err, os.ErrNotExist) {
			return fmt.Errorf("inspect %s: there is no such file", p)
		}
	}
	found, err := pipeline.Inspect(c.Context, &recipe, c.Args().Slice(), sheet.Empty())
	if err != nil {
		return err
	}
	for _, f := range found.Findings {
		say(c, "%s %s: %s", f.Severity, f.Code, result.Harmless(f.Text))
	}
	for _, f := range found.SetAside {
		fmt.Fprintf(c.App.ErrWriter, "set aside: %s\n", result.Harmless(sourced(f.Source, f.Text)))
	}
	if err := show(c, inspectedRows(found.Channels), nil); err != nil {
		return err
	}
	if len(found.SetAside) > 0 {
		return errSetAside
	}
	return nil
}

func inspectedRows(channels []pipeline.Inspected) *result.Rows {
	columns := texts("source", "form", "part", "clock", "channel", "unit", "column", "state", "conversion", "why")
	columns[2].Kind = result.Int
	for _, name := range []string{"rate_hz", "first_s", "last_s", "lowest", "highest"} {
		columns = append(columns, result.Column{Name: name, Kind: result.Float64})
	}
	for _, name := range []string{"numbers", "texts"} {
		columns = append(columns, result.Column{Name: name, Kind: result.Int})
	}
	var rows [][]any
	for _, i := range channels {
		clock := i.Clock.Name
		if i.Clock.Unit != "" {
			clock += " [" + i.Clock.Unit + "]"
		}
		row := []any{i.Source, i.Form, int64(i.Part), clock, i.Channel.Name, orNull(i.Channel.Unit), orNull(i.Column), i.State, orNull(i.Conversion), orNull(i.Why)}
		for _, v := range []float64{i.RateHz, i.First, i.Last, i.Lowest, i.Highest} {
			if math.IsNaN(v) {
				row = append(row, nil)
			} else {
				row = append(row, v)
			}
		}
		rows = append(rows, append(row, int64(i.Values), int64(i.Texts)))
	}
	return result.Of(columns, rows)
}
