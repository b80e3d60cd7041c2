package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"dynolake/cmd/dynolake/demo"
	"dynolake/pipeline"
	"dynolake/pipeline/disk"
	"dynolake/pipeline/lake"
	"dynolake/queries/engine"
	"dynolake/queries/packs"
	"dynolake/queries/result"

	"github.com/urfave/cli/v2"
)

func demoCommand() *cli.Command {
	return &cli.Command{
		Name:  "demo",
		Usage: "make a demo lake from invented logs in every supported form, run the whole job on it and print what answers it",
		Description: "Six invented vehicles on three invented platforms, four calibrations each, half a year of pulls, steps, drives, coastdowns and\n" +
			"filter regenerations by a small physical model, logged as delimited text of every dialect, workbooks, MDF 4, CAN bus logs (OBD-II and\n" +
			"J1939 with a database), Parquet and Arrow, plain or packed (.gz, .zst, .zip). The logs are left in LAKE/demo to look at. A lake that holds other runs is left alone.\n" +
			"--repeat 133 is a shop's year, about 12,500 runs of 84 vehicles that come and go: the logs beyond the first repeat are taken in piece by piece and not kept.",
		Flags:  []cli.Flag{&cli.IntFlag{Name: "repeat", Usage: "drive every visit `N` times over, each time a little differently, after every ten with further vehicles of the same make-up", Value: 1}, memoryFlag()},
		Action: makeDemo,
	}
}

func makeDemo(c *cli.Context) error {
	if err := noArguments(c); err != nil {
		return err
	}
	if n := c.Int("repeat"); n < 1 {
		return usagef("read --repeat %d: want 1 or more", n)
	}
	if _, err := memory(c); err != nil {
		return err
	}
	folder := filepath.Join(lakePath(c), "demo")
	if err := openDemoLake(c, folder); err != nil {
		return err
	}
	_, err := os.Stat(folder)
	first := errors.Is(err, fs.ErrNotExist)
	say(c, "inventing logs in %s", folder)
	world := demo.Default()
	world.Scale = c.Int("repeat")
	if err := world.WriteConfig(folder); err != nil {
		return err
	}
	if err := world.WriteRepeat(c.Context, folder, 0); err != nil {
		return err
	}
	if err := installConfig(diskOf(c), filepath.Join(folder, "config"), configDir(c)); err != nil {
		if first {
			err = errors.Join(err, os.RemoveAll(folder))
		}
		return err
	}
	var done pipeline.Result
	err = writing(c, func(l *lake.Lake, w *lake.Writer, r *pipeline.Recipe, o pipeline.Options) (pipeline.Result, error) {
		var err error
		if done, err = pipeline.Ingest(c.Context, l, w, r, []string{filepath.Join(folder, "logs")}, o); err == nil && c.Int("repeat") > 1 {
			err = repeats{lake: l, writer: w, recipe: r, write: world.WriteRepeat, folder: filepath.Join(folder, "more"), to: c.Int("repeat")}.run(c.Context, &done, o)
		}
		return done, err
	}, summarise)
	if err != nil && !errors.Is(err, errSetAside) {
		return err
	}
	return errors.Join(demoNight(c, done), demoAnswers(c), err)
}

// demoNight makes the comparison tables and the report, as the night's refresh does.
func demoNight(c *cli.Context, done pipeline.Result) error {
	return holding(c, func(l *lake.Lake, _ *lake.Writer, recipe *pipeline.Recipe) error {
		_, _, err := renew(c, l, recipe.Config, done)
		return err
	})
}

// openDemoLake makes the lake, or makes sure that the one that is there is a demo's.
func openDemoLake(c *cli.Context, folder string) error {
	created, err := lake.Init(lakePath(c), pipeline.Starters(), lake.WithDisk(diskOf(c)))
	if err != nil {
		return err
	}
	if created {
		return nil
	}
	if _, err := os.Stat(folder); err == nil {
		return nil
	}
	l, err := openLake(c)
	if err != nil {
		return err
	}
	runs, err := l.Runs(c.Context)
	if err := errors.Join(err, l.Close()); err != nil {
		return err
	}
	if len(runs) > 0 {
		return fmt.Errorf("make the demo in %s: it is a lake with %s in it, and invented runs would mix with them: name another with --lake", lakePath(c), plural(len(runs), "run", "runs"))
	}
	return nil
}

// installConfig copies the demo's configuration into the lake's. A file that somebody wrote in stays, and ends the demo
// before anything is ingested. Of the demo's own vehicles the longer list stays: a lake may get more repeats later on, and keeps those it has.
func installConfig(disk disk.Disk, from, to string) error {
	starters := pipeline.Starters()
	return filepath.WalkDir(from, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		rel, err := filepath.Rel(from, path)
		if err != nil {
			return err
		}
		text, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		into := filepath.Join(to, rel)
		there, err := os.ReadFile(into)
		switch {
		case errors.Is(err, fs.ErrNotExist), err == nil && (string(there) == starters[filepath.ToSlash(rel)] || bytes.Equal(there, text)):
		case err != nil:
			return err
		case rel == "vehicles.yaml" && demo.OwnVehicles(there):
			if len(there) > len(text) {
				return nil
			}
		default:
			return fmt.Errorf("make the demo: %s holds entries that are not the demo's, which it would overwrite: name another lake with --lake", into)
		}
		return disk.Save(into, 0o666, func(w io.Writer) error {
			_, err := w.Write(text)
			return err
		})
	})
}

// demoAnswers prints the tables that answer the job. A format that programs read gets the first one alone.
func demoAnswers(c *cli.Context) error {
	set, err := loadPacks(c)
	if err != nil {
		return err
	}
	format, _, err := presentation(c)
	if err != nil {
		return err
	}
	names := []string{"drive/onset", "torque/peak", "shift/by_pedal", "platform/summary"}
	many := format == result.Table || format == result.Markdown || option(c, "format") == ""
	if !many {
		names = names[:1]
	}
	err = ask(c, nil, func(ctx context.Context, s *engine.Session) error {
		for _, name := range names {
			p, err := set.Pack(name)
			if err != nil {
				return err
			}
			if many {
				fmt.Fprintf(c.App.Writer, "\n%s  (dynolake query %s)\n\n", p.Question, p.Name)
			}
			if err := demoTable(ctx, c, s, p); err != nil {
				return err
			}
		}
		return nil
	})
	if err == nil {
		if many {
			fmt.Fprintf(c.App.Writer, "\nThe report: %s\n", filepath.Join(lakePath(c), "reports", "report.html"))
		}
		say(c, "\nAll of it is invented. Look further: dynolake --lake %s packs, runs, query; the logs are in %s", lakePath(c), filepath.Join(lakePath(c), "demo"))
	}
	return err
}

// demoTable prints one answer; a person reads it, so it is a table even into a pipe unless a format was asked for.
func demoTable(ctx context.Context, c *cli.Context, s *engine.Session, p *packs.Pack) error {
	statement, err := p.SQL(nil)
	if err != nil {
		return err
	}
	rows, err := s.Query(ctx, statement)
	if err != nil {
		return err
	}
	format, units, err := presentation(c)
	if err != nil {
		return err
	}
	if option(c, "format") == "" {
		format = result.Table
	}
	return result.Write(ctx, c.App.Writer, rows, format, result.Options{Units: units, Declared: p.Units()})
}
