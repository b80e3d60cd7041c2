package main

import (
	"context"
	"errors"
	"fmt"
	"sort"
	"strings"
	"time"

	"dynolake/pipeline"
	"dynolake/pipeline/lake"
	"dynolake/pipeline/sheet"
	"dynolake/queries/result"
	"dynolake/schema"

	"github.com/urfave/cli/v2"
)

func ingestCommand() *cli.Command {
	return &cli.Command{
		Name:      "ingest",
		Usage:     "take logs into the lake: archive, convert, derive, find segments, commit; twice is as good as once",
		ArgsUsage: "PATH…",
		Description: "Files and folders. A run sheet beside the logs (NAME.run.yaml, or runs.csv with a row a run) says what they are;\n" +
			"the options below fill in what it leaves open. Exit 3 when some inputs were set aside: see `query --sql 'from findings'`.",
		Flags: []cli.Flag{
			&cli.StringFlag{Name: "vehicle", Usage: "the vehicle's `ID` in config/vehicles.yaml"},
			&cli.StringFlag{Name: "calibration", Usage: "the calibration's `NAME`"},
			&cli.StringFlag{Name: "test", Usage: "the `KIND` of test: sweep, steps, road, coast or other"},
			&cli.StringFlag{Name: "at", Usage: "the `TIME` the run started, such as 2026-03-05 14:30; without a zone in the lake's"},
			memoryFlag(),
		},
		Action: func(c *cli.Context) error {
			if !c.Args().Present() {
				return usagef("ingest wants at least one file or folder")
			}
			fill, err := fillings(c)
			if err != nil {
				return err
			}
			return write(c, func(l *lake.Lake, w *lake.Writer, r *pipeline.Recipe, o pipeline.Options) (pipeline.Result, error) {
				o.Fill = &fill
				return pipeline.Ingest(c.Context, l, w, r, c.Args().Slice(), o)
			})
		},
	}
}

// fillings is what the options state in place of a run sheet.
func fillings(c *cli.Context) (schema.Sheet, error) {
	s := sheet.Empty()
	s.Vehicle, s.Calibration, s.StartedAt = c.String("vehicle"), c.String("calibration"), c.String("at")
	if s.StartedAt != "" {
		if _, err := sheet.Time(s.StartedAt, time.UTC); err != nil {
			return s, usageError{fmt.Errorf("read --at: %w", err)}
		}
	}
	if test := strings.ToLower(c.String("test")); test != "" {
		for _, known := range sheet.Tests() {
			if test == known {
				s.Test = test
				return s, nil
			}
		}
		return s, usagef("read --test %q: want one of %s%s", test, strings.Join(sheet.Tests(), ", "), nearest(test, sheet.Tests()))
	}
	return s, nil
}

type making func(*lake.Lake, *lake.Writer, *pipeline.Recipe, pipeline.Options) (pipeline.Result, error)

// write opens the lake for writing, runs do and tells what became of each run and input.
func write(c *cli.Context, do making) error {
	return writing(c, do, func(c *cli.Context, r pipeline.Result, took time.Duration) error {
		return errors.Join(summarise(c, r, took), outcomes(c, r))
	})
}

// holding opens the lake for writing and runs do, which is given the lake's recipe.
func holding(c *cli.Context, do func(*lake.Lake, *lake.Writer, *pipeline.Recipe) error) (err error) {
	l, err := openLake(c)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, l.Close()) }()
	recipe, err := pipeline.LoadRecipe(configDir(c))
	if err != nil {
		return err
	}
	for _, f := range recipe.Config.Findings {
		say(c, "%s: %s", f.Severity, result.Harmless(f.Text))
	}
	w, err := l.Write(c.Context, "dynolake "+c.Command.Name)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, w.Close()) }()
	if who, left := w.Left(); left {
		say(c, "took over the lock that %s left", who)
	}
	return do(l, w, &recipe)
}

// writing opens the lake for writing, runs do and then tell.
func writing(c *cli.Context, do making, tell func(*cli.Context, pipeline.Result, time.Duration) error) error {
	return holding(c, func(l *lake.Lake, w *lake.Writer, recipe *pipeline.Recipe) error {
		done, took, err := do.run(c, l, w, recipe)
		if err != nil && len(done.Outcomes) == 0 {
			return err
		}
		stopped := c.Err()
		c.Context = context.WithoutCancel(c.Context) // What was stored before an interrupt is told.
		if stopped != nil {
			say(c, "interrupted: what is stored is whole, and the same command goes on from there")
		}
		if err = errors.Join(err, tell(c, done, took)); err == nil && stopped == nil && done.Count("set aside") > 0 {
			return errSetAside
		}
		return err
	})
}

// run makes runs, with a bar that shows how far it is.
func (do making) run(c *cli.Context, l *lake.Lake, w *lake.Writer, r *pipeline.Recipe) (pipeline.Result, time.Duration, error) {
	budget, err := memory(c)
	if err != nil {
		return pipeline.Result{}, 0, err
	}
	defer within(budget)()
	bar := newProgress(c)
	start := time.Now()
	done, err := do(l, w, r, pipeline.Options{Progress: bar.step, Memory: budget})
	bar.close()
	return done, time.Since(start), err
}

// outcomes prints what became of each run and input.
func outcomes(c *cli.Context, r pipeline.Result) error {
	sort.SliceStable(r.Outcomes, func(a, b int) bool { return r.Outcomes[a].Source < r.Outcomes[b].Source })
	columns := append(texts("status", "run_id", "source", "vehicle", "calibration", "test"), result.Column{Name: "rows", Kind: result.Int}, result.Column{Name: "doubts", Kind: result.Int})
	columns = append(columns, texts("reason")...)
	var rows [][]any
	for _, o := range r.Outcomes {
		row := []any{o.Status, orNull(o.RunID), o.Source, orNull(o.Run.Vehicle), orNull(o.Run.Calibration), orNull(o.Run.Test), nil, nil, orNull(o.Reason)}
		if o.Run.Rows > 0 {
			row[6], row[7] = o.Run.Rows, int64(o.Doubts)
		}
		rows = append(rows, row)
	}
	return printTable(c, columns, rows)
}

// summarise says on stderr how much was done, and names what was set aside and why.
func summarise(c *cli.Context, r pipeline.Result, took time.Duration) error {
	for _, o := range r.Outcomes {
		if o.Status == "set aside" {
			fmt.Fprintf(c.App.ErrWriter, "set aside: %s\n", result.Harmless(sourced(o.Source, o.Reason)))
		}
	}
	rate := ""
	if s := took.Seconds(); r.Rows > 0 && s > 0 {
		rate = fmt.Sprintf(", %.0f rows/s, %.1f MB/s", float64(r.Rows)/s, float64(r.Bytes)/1e6/s)
	}
	retired := ""
	if n := r.Count("retired"); n > 0 {
		retired = fmt.Sprintf(", %d retired", n)
	}
	say(c, "%s stored, %d remade, %d unchanged%s, %s set aside; %d rows in %.1f s%s", plural(r.Count("stored"), "run", "runs"), r.Count("remade"),
		r.Count("unchanged"), retired, plural(r.Count("set aside"), "input", "inputs"), r.Rows, took.Seconds(), rate)
	return nil
}

// sourced puts a source's name before a text that does not begin with it.
func sourced(source, text string) string {
	if source == "" || strings.HasPrefix(text, source) {
		return text
	}
	return source + ": " + text
}
