package main

import (
	"fmt"
	"io"
	"os"

	"github.com/urfave/cli/v2"
	"golang.org/x/term"
)

func commonFlags() []cli.Flag {
	return []cli.Flag{
		&cli.StringFlag{Name: "lake", Usage: "the lake's folder, `PATH`", EnvVars: []string{"DYNOLAKE"}, DefaultText: "$DYNOLAKE, else ./lake", TakesFile: true},
		&cli.StringFlag{Name: "format", Usage: "what results are printed as: `FORM` is table, csv, json, parquet or markdown", DefaultText: "table on a terminal, csv into a pipe"},
		&cli.StringFlag{Name: "units", Usage: "units of tables and pictures for people: `SYSTEM` is metric or us", DefaultText: "metric"},
		&cli.BoolFlag{Name: "quiet", Usage: "no progress, only results and errors", DisableDefaultText: true},
	}
}

// lakePath is the lake that the options name.
func lakePath(c *cli.Context) string {
	if p := option(c, "lake"); p != "" {
		return p
	}
	return "lake"
}

// option finds a common option wherever on the command line it was given.
func option(c *cli.Context, name string) string {
	for _, ctx := range c.Lineage() {
		if ctx.IsSet(name) {
			return ctx.String(name)
		}
	}
	return ""
}

func quiet(c *cli.Context) bool {
	for _, ctx := range c.Lineage() {
		if ctx.Bool("quiet") {
			return true
		}
	}
	return false
}

func onTerminal(w io.Writer) bool {
	f, ok := w.(*os.File)
	return ok && term.IsTerminal(int(f.Fd()))
}

// say prints a message to stderr unless --quiet.
func say(c *cli.Context, format string, args ...any) {
	if !quiet(c) {
		fmt.Fprintf(c.App.ErrWriter, format+"\n", args...)
	}
}
