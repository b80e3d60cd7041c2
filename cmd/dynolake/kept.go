package main

import (
	"path/filepath"

	"dynolake/cmd/dynolake/night"
	"dynolake/pipeline/config"
	"dynolake/queries/packs"
	"dynolake/queries/result"
	"dynolake/queries/tables"

	"github.com/urfave/cli/v2"
)

func anewFlag() cli.Flag {
	return &cli.BoolFlag{Name: "anew", Usage: "compute the answer even where the tables that the last refresh left hold it", DisableDefaultText: true}
}

// kept gives a pack's answer from the tables that the last refresh left, where they hold what computing it now would give. Whatever is in the way of
// that is no error: the answer is then computed, and what is wrong is told there.
func kept(c *cli.Context, p *packs.Pack, statement string) (*result.Rows, bool) {
	if c.Bool("anew") || c.String("of") != "" {
		return nil, false
	}
	books := night.Books(lakePath(c))
	conf, err := config.Load(configDir(c))
	if len(books) == 0 || err != nil || len(conf.Columns)+len(conf.Problems) > 0 { // A session says which of the user's columns it leaves out.
		return nil, false
	}
	l, err := openLake(c)
	if err != nil {
		return nil, false
	}
	in := tables.Inputs{Vehicles: vehicles(conf), Limits: conf.Limits}
	in.Contents, err = l.Contents(c.Context)
	if l.Close() != nil || err != nil {
		return nil, false
	}
	return in.Kept(c.Context, filepath.Clean(lakePath(c)), p, statement, books)
}
