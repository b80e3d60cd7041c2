package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"dynolake/queries/engine"
	"dynolake/queries/result"

	"github.com/urfave/cli/v2"
)

// replyFlags say what becomes of a query's answer.
func replyFlags() []cli.Flag {
	return []cli.Flag{
		&cli.StringFlag{Name: "out", Usage: "write the answer to `FILE` instead of stdout, whole or not at all; .csv, .json, .parquet or .md says the form unless --format does", TakesFile: true},
		&cli.BoolFlag{Name: "explain", Usage: "tell how the query would be run instead of running it", DisableDefaultText: true},
	}
}

// reply runs one statement and prints its rows, writes them to a file, or tells how it would be run.
func reply(c *cli.Context, statement string, units map[string]string) error {
	if c.Bool("explain") {
		return ask(c, nil, func(ctx context.Context, s *engine.Session) error { return plan(ctx, c, s, statement) })
	}
	if c.String("out") != "" {
		if _, err := outForm(c); err != nil { // Before anything is computed.
			return err
		}
	}
	return inquireOf(c, engine.Options{Once: engine.ReadsOnce(statement)}, func(ctx context.Context, s engine.Asker) error {
		rows, err := s.Query(ctx, statement)
		if err != nil {
			return err
		}
		return deliver(c, rows, withUserUnits(s, units))
	})
}

// deliver prints an answer or writes it to the file that --out names.
func deliver(c *cli.Context, rows *result.Rows, units map[string]string) error {
	if c.String("out") == "" {
		return show(c, rows, units)
	}
	format, err := outForm(c)
	if err != nil {
		return errors.Join(err, rows.Close())
	}
	_, system, err := presentation(c)
	if err != nil {
		return errors.Join(err, rows.Close())
	}
	return place(c)(c.String("out"), func(w io.Writer) error {
		return result.Write(c.Context, w, rows, format, result.Options{Units: system, Declared: units})
	})
}

// outForm is the form of the file that --out names: as --format says, else as its ending does.
func outForm(c *cli.Context) (result.Format, error) {
	if name := option(c, "format"); name != "" {
		f, err := result.ParseFormat(name)
		if err != nil {
			return "", usageError{err}
		}
		return f, nil
	}
	end := strings.ToLower(filepath.Ext(c.String("out")))
	forms := map[string]result.Format{".csv": result.CSV, ".json": result.JSON, ".parquet": result.Parquet, ".md": result.Markdown, ".txt": result.Table}
	f, ok := forms[end]
	if !ok {
		return "", usagef("read --out %q: its ending says no form: want .csv, .json, .parquet, .md or .txt, or --format", c.String("out"))
	}
	return f, nil
}

// plan prints how the database would run a statement.
func plan(ctx context.Context, c *cli.Context, s *engine.Session, statement string) error {
	rows, err := s.Query(ctx, "EXPLAIN "+statement)
	if err != nil {
		return moved(err, len("EXPLAIN "))
	}
	if option(c, "format") != "" {
		return show(c, rows, nil)
	}
	all, err := rows.All()
	if err != nil {
		return err
	}
	for _, r := range all {
		if _, err := fmt.Fprintln(c.App.Writer, strings.TrimRight(fmt.Sprint(r[len(r)-1]), "\n")); err != nil {
			return err
		}
	}
	return nil
}

// moved corrects the place of a fault in a statement's first line for what was put before it.
func moved(err error, by int) error {
	fault, refused := new(engine.Fault), new(engine.Refused)
	if errors.As(err, &fault) && fault.Line == 1 {
		fault.Column = max(fault.Column-by, 1)
	}
	if errors.As(err, &refused) && refused.Line == 1 {
		refused.Column = max(refused.Column-by, 1)
	}
	return err
}
