package main

import (
	"errors"
	"time"

	"dynolake/pipeline"
	"dynolake/pipeline/lake"

	"github.com/urfave/cli/v2"
)

// repair verifies the lake, makes what is damaged and can be made again from the archive, and verifies it once more.
func repair(c *cli.Context) error {
	problems, err := check(c)
	if err != nil {
		return err
	}
	if lake.Faults(problems) == 0 && waiting(problems) == 0 {
		return tellProblems(c, problems)
	}
	var paths []string
	for _, p := range problems {
		if p.Lost {
			paths = append(paths, p.Path)
		}
		if !p.Note {
			say(c, "found: %s", p)
		}
	}
	var refused []string
	err = writing(c, func(l *lake.Lake, w *lake.Writer, r *pipeline.Recipe, o pipeline.Options) (res pipeline.Result, err error) {
		res, refused, err = pipeline.Repair(c.Context, l, w, r, paths, o)
		return res, err
	}, tellRepaired)
	if err != nil && !errors.Is(err, errSetAside) { // What could not be made again is found wrong below.
		return err
	}
	for _, sha := range refused {
		say(c, "why source %s was set aside is lost with its file; its bytes are in the archive: ingest it again to have it said", sha[:12])
	}
	if problems, err = check(c); err != nil {
		return err
	}
	if err := tellProblems(c, problems); err != nil {
		return err
	}
	if n := waiting(problems); n > 0 {
		return errors.New(plural(n, "run", "runs") + " could not be made again: the archive has lost their logs; ingest those again")
	}
	return nil
}

// waiting counts the runs that are still to be made again.
func waiting(problems []lake.Problem) int {
	n := 0
	for _, p := range problems {
		if p.Wait {
			n++
		}
	}
	return n
}

func tellRepaired(c *cli.Context, r pipeline.Result, took time.Duration) error {
	for _, o := range r.Outcomes {
		say(c, "%s run %s (%s) %s", o.Status, o.RunID, o.Source, o.Reason)
	}
	say(c, "%s made again from the archive in %s", plural(r.Count("stored")+r.Count("remade"), "run", "runs"), took.Round(time.Millisecond))
	return nil
}
