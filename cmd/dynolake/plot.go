package main

import (
	"context"
	"errors"
	"fmt"

	"dynolake/queries/engine"
	"dynolake/queries/packs"
	"dynolake/queries/plot"

	"github.com/urfave/cli/v2"
)

// checkPlot refuses a picture that cannot be, before anything is asked. The pack is nil for a statement of the user's own.
func checkPlot(c *cli.Context, pack *packs.Pack) error {
	switch {
	case !c.IsSet("plot"):
		return nil
	case pack == nil:
		return usagef("--plot goes with PACK/QUERY: a statement declares no picture; save it as a pack with a line `-- plot: line x=COLUMN y=COLUMN` to draw it")
	case len(pack.Pictures) == 0:
		return usagef("draw %s: it declares no picture; `dynolake packs show PACK/QUERY` shows what a query declares", pack.Name)
	}
	if err := plot.Check(c.String("plot")); err != nil {
		return usageError{err}
	}
	return nil
}

// drawAnswer runs a pack's statement, draws its pictures into the file of --plot and prints the file's name.
func drawAnswer(c *cli.Context, pack *packs.Pack, statement string) error {
	_, units, err := presentation(c)
	if err != nil {
		return err
	}
	o := plot.Options{Units: units}
	return inquire(c, func(ctx context.Context, s engine.Asker) error {
		if o.Limits, err = statedLimits(ctx, s); err != nil {
			return err
		}
		if err := o.Times(ctx, s); err != nil {
			return err
		}
		rows, err := s.Query(ctx, statement)
		if err != nil {
			return err
		}
		columns := rows.Columns()
		all, err := rows.All()
		if err != nil {
			return err
		}
		charts, err := plot.Charts(pack, columns, all, o)
		if err != nil {
			return err
		}
		if err := plot.Save(c.String("plot"), charts, place(c)); err != nil {
			return err
		}
		if len(all) == 0 {
			say(c, "the answer has no rows, and the picture says so")
		}
		if option(c, "format") != "" {
			return errors.Join(printTable(c, texts("picture"), [][]any{{c.String("plot")}}), ctx.Err())
		}
		_, err = fmt.Fprintln(c.App.Writer, c.String("plot"))
		return errors.Join(err, ctx.Err())
	})
}
