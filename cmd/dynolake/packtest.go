package main

import (
	"fmt"
	"strings"

	"dynolake/queries/packs"

	"github.com/urfave/cli/v2"
)

func testPacks(c *cli.Context) error {
	if c.NArg() > 1 {
		return usagef("packs test wants at most one PACK or PACK/QUERY")
	}
	set, err := loadPacks(c)
	if err != nil {
		return err
	}
	if name := c.Args().First(); name != "" && !set.Has(name) {
		_, err := set.Pack(name)
		return usageError{err}
	}
	cases, err := packs.Test(c.Context, set, c.Args().First())
	if err != nil {
		return err
	}
	failed := 0
	var rows [][]any
	for _, o := range cases {
		verdict := "holds"
		if len(o.Fails) > 0 {
			verdict, failed = "fails", failed+1
		}
		rows = append(rows, []any{o.Pack, o.Case, verdict, orNull(strings.Join(o.Fails, "\n"))})
	}
	if err := printTable(c, texts("query", "case", "verdict", "why"), rows); err != nil {
		return err
	}
	switch {
	case failed > 0:
		return fmt.Errorf("%d of %d cases fail", failed, len(cases))
	case len(set.Problems) > 0 && c.NArg() == 0:
		return fmt.Errorf("%s of yours cannot be read", plural(len(set.Problems), "query", "queries"))
	}
	say(c, "%s hold", plural(len(cases), "case", "cases"))
	return nil
}
