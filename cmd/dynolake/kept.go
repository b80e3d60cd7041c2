package main

import (
	"context"
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
	defer unhurried()()
	give := keeper(c, night.Books(lakePath(c)))
	if give == nil {
		return nil, false
	}
	return give(c.Context, p, statement)
}

// keeper gives answers from the tables of the books; nil where none can be given.
func keeper(c *cli.Context, books map[string]tables.Book) func(context.Context, *packs.Pack, string) (*result.Rows, bool) {
	conf, err := config.Load(configDir(c))
	if len(books) == 0 || err != nil || len(conf.Columns)+len(conf.Problems) > 0 { // A session says which of the user's columns it leaves out.
		return nil
	}
	l, err := openLake(c)
	if err != nil {
		return nil
	}
	in := tables.Inputs{Vehicles: vehicles(conf), Limits: conf.Limits}
	in.Contents, err = l.Contents(c.Context)
	if l.Close() != nil || err != nil {
		return nil
	}
	root := filepath.Clean(lakePath(c))
	return func(ctx context.Context, p *packs.Pack, statement string) (*result.Rows, bool) {
		return in.Kept(ctx, root, p, statement, books)
	}
}
