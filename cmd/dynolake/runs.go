package main

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"dynolake/pipeline/config"
	"dynolake/pipeline/sheet"
	"dynolake/queries/engine"
	"dynolake/queries/result"

	"github.com/urfave/cli/v2"
)

func runsCommand() *cli.Command {
	var flags []cli.Flag
	for _, name := range []string{"vehicle", "platform", "duty", "calibration", "test"} {
		flags = append(flags, &cli.StringFlag{Name: name, Usage: "only runs of this `" + strings.ToUpper(name) + "`"})
	}
	flags = append(flags,
		&cli.StringFlag{Name: "from", Usage: "only runs that started at this `TIME` or later; without a zone it is in the lake's"},
		&cli.StringFlag{Name: "to", Usage: "only runs that started before this `TIME`"})
	return &cli.Command{
		Name:   "runs",
		Usage:  "the runs of the lake; runs show ID prints all that is known about one",
		Flags:  flags,
		Action: listRuns,
		Subcommands: []*cli.Command{
			{Name: "show", Usage: "everything known about one run: sheet, sources, segments, channels, findings", ArgsUsage: "ID", Action: showRun},
		},
	}
}

func listRuns(c *cli.Context) error {
	if err := noArguments(c); err != nil {
		return err
	}
	where, err := conditions(c)
	if err != nil {
		return err
	}
	statement := "SELECT * FROM runs"
	if len(where) > 0 {
		statement += " WHERE " + strings.Join(where, " AND ")
	}
	return ask(c, []string{}, func(ctx context.Context, s *engine.Session) error {
		for _, name := range []string{"vehicle", "platform", "calibration"} {
			if err := hint(ctx, c, s, name); err != nil {
				return err
			}
		}
		rows, err := s.Query(ctx, statement+" ORDER BY started_at NULLS LAST, run_id")
		if err != nil {
			return err
		}
		return show(c, rows, nil)
	})
}

// conditions turns the options into SQL.
func conditions(c *cli.Context) (where []string, err error) {
	known := map[string][]string{"test": sheet.Tests(), "duty": {"light", "heavy"}}
	for _, name := range []string{"vehicle", "platform", "duty", "calibration", "test"} {
		value := c.String(name)
		if !c.IsSet(name) {
			continue
		}
		if list := known[name]; list != nil && !slices.Contains(list, value) {
			return nil, usagef("read --%s %q: want one of %s%s", name, value, strings.Join(list, ", "), nearest(value, list))
		}
		where = append(where, fmt.Sprintf("%s = %s", name, literal(value)))
	}
	for _, bound := range []struct{ name, op string }{{"from", ">="}, {"to", "<"}} {
		if !c.IsSet(bound.name) {
			continue
		}
		conf, err := config.Load(configDir(c))
		if err != nil {
			return nil, err
		}
		at, err := sheet.Time(c.String(bound.name), conf.Location)
		if err != nil {
			return nil, usageError{fmt.Errorf("read --%s: %w", bound.name, err)}
		}
		where = append(where, fmt.Sprintf("started_at %s TIMESTAMPTZ %s", bound.op, literal(at.UTC().Format(time.RFC3339Nano))))
	}
	return where, nil
}

// hint says on stderr when no run has what an option asks for, and what was perhaps meant.
func hint(ctx context.Context, c *cli.Context, s *engine.Session, name string) error {
	if !c.IsSet(name) {
		return nil
	}
	rows, err := s.Query(ctx, fmt.Sprintf("SELECT DISTINCT %s FROM runs WHERE %s IS NOT NULL", name, name))
	if err != nil {
		return err
	}
	all, err := rows.All()
	if err != nil {
		return err
	}
	var there []string
	for _, row := range all {
		there = append(there, result.Plain(row[0]))
	}
	if value := c.String(name); !slices.Contains(there, value) {
		say(c, "no run has %s %q%s", name, value, nearest(value, there))
	}
	return nil
}

// literal quotes a text for SQL.
func literal(s string) string { return "'" + strings.ReplaceAll(s, "'", "''") + "'" }
