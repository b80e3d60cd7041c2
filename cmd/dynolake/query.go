package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"

	"dynolake/queries/dialect"
	"dynolake/queries/engine"

	"github.com/urfave/cli/v2"
)

func queryCommand() *cli.Command {
	return &cli.Command{
		Name:      "query",
		Usage:     "ask the lake: a pack's query, or SQL over the views runs, samples, segments, curves, sources, vehicles, limits, unmapped, findings",
		ArgsUsage: "[PACK/QUERY]",
		Description: "query PACK/QUERY [--param name=value …] runs one of `dynolake packs`; query --sql '…' or --file f.sql runs your own.\n" +
			"Read-only: one SELECT (or EXPLAIN) that reaches nothing but the views.",
		Flags: append([]cli.Flag{
			&cli.StringSliceFlag{Name: "param", Usage: "a parameter of the query, `name=value`; repeat for more"},
			&cli.StringFlag{Name: "sql", Usage: "a `SELECT` to run"},
			&cli.StringFlag{Name: "file", Usage: "a `FILE` with a SELECT to run; - reads stdin", TakesFile: true},
			&cli.StringFlag{Name: "plot", Usage: "draw the answer into `FILE`.svg or .png instead of printing it, where the query declares a picture", TakesFile: true},
			&cli.DurationFlag{Name: "timeout", Usage: "stop a query that runs longer, such as `30s`"},
			anewFlag(),
		}, append(placeFlags(), replyFlags()...)...),
		Action: query,
	}
}

func query(c *cli.Context) error {
	if err := checkQuestion(c); err != nil {
		return err
	}
	if !c.Args().Present() {
		if c.IsSet("param") {
			return usagef("--param goes with PACK/QUERY")
		}
		if err := checkPlot(c, nil); err != nil {
			return err
		}
		statement, err := statement(c)
		if err != nil {
			return err
		}
		return mine(c, reply(c, statement, nil))
	}
	set, err := loadPacks(c)
	if err != nil {
		return err
	}
	pack, err := set.Pack(c.Args().First())
	if err != nil {
		return usageError{err}
	}
	if err := checkPlot(c, pack); err != nil {
		return err
	}
	params, err := parameters(c)
	if err != nil {
		return err
	}
	statement, err := pack.SQL(params)
	if err != nil {
		return usageError{err}
	}
	if pack.Names(params) { // Before anything is drawn or shown; a session opens in milliseconds.
		if err := inquire(c, func(ctx context.Context, s engine.Asker) error { return known(ctx, s, pack, params) }); err != nil {
			return err
		}
	}
	if c.IsSet("plot") {
		return pack.Fault(drawAnswer(c, pack, statement))
	}
	if !c.Bool("explain") {
		if rows, ok := kept(c, pack, statement); ok {
			return deliver(c, rows, pack.Units())
		}
	}
	return pack.Fault(reply(c, statement, pack.Units()))
}

// checkQuestion refuses a command line that does not ask one question of one place.
func checkQuestion(c *cli.Context) error {
	given := 0
	for _, is := range []bool{c.Args().Present(), c.IsSet("sql"), c.IsSet("file")} {
		if is {
			given++
		}
	}
	if c.Duration("timeout") < 0 {
		return usagef("read --timeout %s: want a time such as 30s", c.Duration("timeout"))
	}
	if given != 1 || c.NArg() > 1 {
		return usagef("query wants one of PACK/QUERY, --sql or --file; `dynolake packs` lists the queries")
	}
	return checkPlace(c)
}

// mine makes a fault in the user's own statement one of the command line, with the file that it is in.
func mine(c *cli.Context, err error) error {
	var fault *engine.Fault
	if errors.As(err, new(*engine.Refused)) || errors.As(err, new(*dialect.Refused)) || errors.As(err, &fault) && slices.Contains([]string{"Parser", "Binder", "Catalog"}, fault.Kind) {
		err = usageError{err}
	}
	if name := c.String("file"); err != nil && name != "" && name != "-" && errors.As(err, new(usageError)) {
		return usageError{fmt.Errorf("%s:%w", name, err)}
	}
	return err
}

// statement is the text of --sql or --file.
func statement(c *cli.Context) (string, error) {
	if c.IsSet("sql") {
		return c.String("sql"), nil
	}
	name := c.String("file")
	if name == "-" {
		text, err := io.ReadAll(c.App.Reader)
		return string(text), err
	}
	text, err := os.ReadFile(name)
	if errors.Is(err, os.ErrNotExist) {
		return "", usagef("read --file: %w", err)
	}
	if err != nil {
		return "", fmt.Errorf("read --file: %w", err)
	}
	return string(text), nil
}
