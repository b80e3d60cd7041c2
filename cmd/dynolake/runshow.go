package main

import (
	"context"
	"fmt"

	"dynolake/queries/engine"
	"dynolake/queries/result"

	"github.com/urfave/cli/v2"
)

// parts of a run, each a table of its own in `runs show`.
func parts() []struct{ title, statement string } {
	return []struct{ title, statement string }{
		{"run", "SELECT * FROM runs WHERE run_id = %s"},
		{"sources", "SELECT * EXCLUDE (run_id) FROM sources WHERE run_id = %s ORDER BY source"},
		{"segments", "SELECT * EXCLUDE (run_id) FROM segments WHERE run_id = %s ORDER BY segment_id"},
		{"unmapped channels", "SELECT source, channel_group, name, unit, count(*) AS n, min(value) AS lowest, max(value) AS highest, min(text) AS a_text FROM unmapped WHERE run_id = %s GROUP BY ALL ORDER BY source, channel_group, name, unit"},
		{"findings", "SELECT severity, code, channel, source, text, value, unit, t0_s, t1_s FROM findings WHERE run_id = %s ORDER BY severity, code, source, channel, text"},
	}
}

func showRun(c *cli.Context) error {
	if c.NArg() != 1 {
		return usagef("runs show wants one run id; `dynolake runs` lists them")
	}
	id := c.Args().First()
	format, _, err := presentation(c)
	if err != nil {
		return err
	}
	return ask(c, []string{id}, func(ctx context.Context, s *engine.Session) error {
		rows, err := s.Query(ctx, "SELECT run_id FROM runs WHERE run_id = "+literal(id))
		if err != nil {
			return err
		}
		found, err := rows.All()
		if err != nil {
			return err
		}
		if len(found) == 0 {
			return fmt.Errorf("show run %q: the lake has no run of that id; `dynolake runs` lists them", id)
		}
		if format == result.Table || format == result.Markdown {
			return showParts(ctx, c, s, id)
		}
		return showFacts(ctx, c, s, id)
	})
}

// showParts prints a table for each part of a run, for people.
func showParts(ctx context.Context, c *cli.Context, s *engine.Session, id string) error {
	for _, p := range parts() {
		rows, err := s.Query(ctx, fmt.Sprintf(p.statement, literal(id)))
		if err != nil {
			return err
		}
		fmt.Fprintf(c.App.Writer, "\n%s\n\n", p.title)
		if err := show(c, rows, nil); err != nil {
			return err
		}
	}
	return nil
}

// showFacts prints one table with a row a fact, for programs.
func showFacts(ctx context.Context, c *cli.Context, s *engine.Session, id string) error {
	columns := append(texts("part"), result.Column{Name: "item", Kind: result.Int})
	columns = append(columns, texts("field", "value")...)
	var facts [][]any
	for _, p := range parts() {
		rows, err := s.Query(ctx, fmt.Sprintf(p.statement, literal(id)))
		if err != nil {
			return err
		}
		names := rows.Names()
		all, err := rows.All()
		if err != nil {
			return err
		}
		for i, row := range all {
			for j, v := range row {
				if v != nil {
					facts = append(facts, []any{p.title, int64(i), names[j], result.Plain(v)})
				}
			}
		}
	}
	return show(c, result.Of(columns, facts), nil)
}
