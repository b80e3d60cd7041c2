package main

import (
	"errors"
	"os"

	"dynolake/queries/result"

	"github.com/urfave/cli/v2"
	"golang.org/x/term"
)

// show prints rows on stdout in the format and units that the options ask for.
func show(c *cli.Context, rows *result.Rows, declared map[string]string) error {
	format, units, err := presentation(c)
	if err != nil {
		return err
	}
	if format == result.Parquet && onTerminal(c.App.Writer) {
		return errors.Join(usagef("a terminal shows no Parquet: write > FILE behind the command"), rows.Close())
	}
	o := result.Options{Units: units, Declared: declared}
	if f, ok := c.App.Writer.(*os.File); ok && onTerminal(f) {
		if w, _, err := term.GetSize(int(f.Fd())); err == nil {
			o.Width = w
		}
	}
	return result.Write(c.Context, c.App.Writer, rows, format, o)
}

// presentation reads --format and --units.
func presentation(c *cli.Context) (result.Format, result.Units, error) {
	format := result.CSV
	if onTerminal(c.App.Writer) {
		format = result.Table
	}
	if name := option(c, "format"); name != "" {
		f, err := result.ParseFormat(name)
		if err != nil {
			return "", "", usageError{err}
		}
		format = f
	}
	units := result.Metric
	if name := option(c, "units"); name != "" {
		u, err := result.ParseUnits(name)
		if err != nil {
			return "", "", usageError{err}
		}
		units = u
	}
	return format, units, nil
}
