package main

import (
	"errors"

	"dynolake/pipeline/lake"

	"github.com/urfave/cli/v2"
)

func verifyCommand() *cli.Command {
	return &cli.Command{
		Name:  "verify",
		Usage: "re-read everything and check every checksum, count and reference; exit 1 and a list when something is wrong",
		Flags: []cli.Flag{
			&cli.BoolFlag{Name: "quick", Usage: "sizes and references only"},
			&cli.BoolFlag{Name: "rebuild", Usage: "make the catalogue anew from the files and the archive"},
			&cli.BoolFlag{Name: "repair", Usage: "make runs whose files are damaged again from their archived logs"},
		},
		Action: verify,
	}
}

func verify(c *cli.Context) (err error) {
	if err := noArguments(c); err != nil {
		return err
	}
	switch {
	case c.Bool("repair") && (c.Bool("quick") || c.Bool("rebuild")):
		return usagef("verify --repair reads everything and keeps the catalogue: give it without --quick and --rebuild; rebuild first where the catalogue is damaged")
	case c.Bool("repair"):
		return repair(c)
	}
	var problems []lake.Problem
	if c.Bool("rebuild") {
		problems, err = lake.Rebuild(c.Context, lakePath(c), "dynolake verify --rebuild", lake.WithDisk(diskOf(c)))
	} else {
		problems, err = check(c)
	}
	if err != nil {
		return err
	}
	return tellProblems(c, problems)
}

// tellProblems lists what is wrong; it fails when something is.
func tellProblems(c *cli.Context, problems []lake.Problem) error {
	var rows [][]any
	for _, p := range problems {
		severity := "wrong"
		switch {
		case p.Wait:
			severity = "waiting"
		case p.Note:
			severity = "left over"
		}
		rows = append(rows, []any{severity, orNull(p.Path), p.What, orNull(p.Cost)})
	}
	if err := printTable(c, texts("severity", "path", "what", "cost"), rows); err != nil {
		return err
	}
	if n := lake.Faults(problems); n > 0 {
		return errors.New(plural(n, "thing is", "things are") + " wrong with the lake")
	}
	say(c, "the lake at %s is sound", lakePath(c))
	return nil
}

func check(c *cli.Context) (problems []lake.Problem, err error) {
	l, err := openLake(c)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, l.Close()) }()
	return l.Verify(c.Context, lake.Checks{Quick: c.Bool("quick")})
}
