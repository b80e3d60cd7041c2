package main

import (
	"fmt"

	"dynolake/queries/packs"

	"github.com/urfave/cli/v2"
)

func packsCommand() *cli.Command {
	return &cli.Command{
		Name:  "packs",
		Usage: "the questions the lake answers: every PACK/QUERY, what each asks, its columns, parameters and SQL",
		Flags: []cli.Flag{&cli.BoolFlag{Name: "brief", Usage: "query and question alone"}},
		Subcommands: []*cli.Command{
			{Name: "show", Usage: "a query's question, columns with units, parameters and SQL", ArgsUsage: "PACK/QUERY", Action: showPack},
			{Name: "test", Usage: "run the tests of all packs or of one, ours and yours", ArgsUsage: "[PACK]", Action: testPacks},
		},
		Action: func(c *cli.Context) error {
			if err := noArguments(c); err != nil {
				return err
			}
			set, err := loadPacks(c)
			if err != nil {
				return err
			}
			if !c.Bool("brief") {
				return show(c, set.Listing(), nil)
			}
			var rows [][]any
			for _, p := range set.All() {
				rows = append(rows, []any{p.Name, orNull(p.Question)})
			}
			return printTable(c, texts("query", "question"), rows)
		},
	}
}

func showPack(c *cli.Context) error {
	if c.NArg() != 1 {
		return usagef("packs show wants one PACK/QUERY; `dynolake packs` lists them")
	}
	set, err := loadPacks(c)
	if err != nil {
		return err
	}
	p, err := set.Pack(c.Args().First())
	if err != nil {
		return usageError{err}
	}
	if option(c, "format") != "" || !onTerminal(c.App.Writer) {
		return printTable(c, texts("part", "name", "type", "default", "unit", "meaning"), describe(p))
	}
	w := c.App.Writer
	fmt.Fprintf(w, "%s: %s\n", p.Name, p.Title)
	if p.Question != "" {
		fmt.Fprintf(w, "\n%s\n", p.Question)
	}
	for _, r := range describe(p) {
		switch r[0] {
		case "column":
			fmt.Fprintf(w, "  column     %-24v %-10v %v\n", r[1], r[4], r[5])
		case "parameter":
			fmt.Fprintf(w, "  parameter  %-24v %v, default %v, %v: %v\n", r[1], r[2], r[3], r[4], r[5])
		}
	}
	fmt.Fprintf(w, "\n%s\n", p.Source())
	return nil
}

// describe lists a query's columns, parameters and SQL as rows.
func describe(p *packs.Pack) [][]any {
	rows := [][]any{{"title", p.Name, nil, nil, nil, p.Title}, {"question", p.Name, nil, nil, nil, orNull(p.Question)}}
	for _, col := range p.Columns {
		rows = append(rows, []any{"column", col.Name, nil, nil, col.Unit, col.Meaning})
	}
	for _, d := range p.Params {
		rows = append(rows, []any{"parameter", d.Name, d.Type, d.Default, d.Unit, d.Meaning})
	}
	return append(rows, []any{"sql", p.Name, nil, nil, nil, p.Source()})
}
