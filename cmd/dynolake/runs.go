package main

import (
	"fmt"
	"strings"
	"time"

	"dynolake/pipeline/sheet"

	"github.com/urfave/cli/v2"
)

func runsCommand() *cli.Command {
	var flags []cli.Flag
	for _, name := range []string{"vehicle", "platform", "duty", "calibration", "test"} {
		flags = append(flags, &cli.StringFlag{Name: name, Usage: "only runs of this `" + name + "`"})
	}
	flags = append(flags,
		&cli.StringFlag{Name: "from", Usage: "only runs that started at this `time` or later"},
		&cli.StringFlag{Name: "to", Usage: "only runs that started before this `time`"})
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
	var where []string
	for _, name := range []string{"vehicle", "platform", "duty", "calibration", "test"} {
		if c.IsSet(name) {
			where = append(where, fmt.Sprintf("%s = %s", name, literal(c.String(name))))
		}
	}
	for name, op := range map[string]string{"from": ">=", "to": "<"} {
		if !c.IsSet(name) {
			continue
		}
		at, err := moment(c.String(name))
		if err != nil {
			return usageError{fmt.Errorf("read --%s: %w", name, err)}
		}
		where = append(where, fmt.Sprintf("started_at %s TIMESTAMPTZ %s", op, literal(at)))
	}
	statement := "SELECT * FROM runs"
	if len(where) > 0 {
		statement += " WHERE " + strings.Join(where, " AND ")
	}
	return answer(c, []string{}, statement+" ORDER BY started_at NULLS LAST, run_id", nil)
}

// literal quotes a text for SQL.
func literal(s string) string { return "'" + strings.ReplaceAll(s, "'", "''") + "'" }

// moment reads a time of an option; without a zone it is UTC.
func moment(text string) (string, error) {
	at, err := sheet.Time(text, time.UTC)
	if err != nil {
		return "", err
	}
	return at.UTC().Format(time.RFC3339Nano), nil
}
