package main

import (
	"fmt"
	"path/filepath"

	"dynolake/pipeline"
	"dynolake/pipeline/lake"

	"github.com/urfave/cli/v2"
)

func initCommand() *cli.Command {
	return &cli.Command{
		Name:  "init",
		Usage: "make an empty lake with commented starter vehicles.yaml, dynos.yaml, limits.yaml and mappings; a lake that is there is left as it is",
		Action: func(c *cli.Context) error {
			if err := noArguments(c); err != nil {
				return err
			}
			created, err := lake.Init(lakePath(c), pipeline.Starters(), lake.WithDisk(diskOf(c)))
			if err != nil {
				return err
			}
			if option(c, "format") != "" {
				status := map[bool]string{true: "made", false: "there already"}[created]
				if err := printTable(c, texts("lake", "status"), [][]any{{lakePath(c), status}}); err != nil {
					return err
				}
			}
			if created {
				say(c, "made an empty lake at %s: describe your vehicles in %s, then run dynolake ingest", lakePath(c), filepath.Join(configDir(c), "vehicles.yaml"))
			} else {
				say(c, "there is a lake at %s already: nothing changed", lakePath(c))
			}
			return nil
		},
	}
}

func reprocessCommand() *cli.Command {
	return &cli.Command{
		Name:      "reprocess",
		Usage:     "make runs again from their archived bytes with today's program, mappings and vehicles",
		ArgsUsage: "[RUN…]",
		Flags:     []cli.Flag{&cli.BoolFlag{Name: "force", Usage: "also runs that nothing has changed for"}, memoryFlag()},
		Action: func(c *cli.Context) error {
			return write(c, func(l *lake.Lake, w *lake.Writer, r *pipeline.Recipe, o pipeline.Options) (pipeline.Result, error) {
				return pipeline.Reprocess(c.Context, l, w, r, c.Args().Slice(), c.Bool("force"), o)
			})
		},
	}
}

func plural(n int, one, many string) string {
	if n == 1 {
		return fmt.Sprintf("1 %s", one)
	}
	return fmt.Sprintf("%d %s", n, many)
}
