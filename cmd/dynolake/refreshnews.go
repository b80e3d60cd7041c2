package main

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"dynolake/cmd/dynolake/night"
	"dynolake/queries/engine"
	"dynolake/queries/result"

	"github.com/urfave/cli/v2"
)

// tellNews prints what is new since the last refresh, a row a thing, and one line that sums it up.
func tellNews(c *cli.Context, work *night.Work, n night.News) error {
	var rows [][]any
	add := func(what, subject, was, now, note string) {
		rows = append(rows, []any{what, orNull(subject), orNull(was), orNull(now), orNull(note)})
	}
	runs, err := newRuns(c.Context, work, append(n.Runs, n.Remade...))
	if err != nil {
		return err
	}
	for _, id := range n.Runs {
		add("new run", id, "", runs[id], n.Outcomes[id].Source)
	}
	for _, id := range n.Remade {
		add("remade run", id, "", runs[id], n.Outcomes[id].Reason)
	}
	for _, id := range n.Gone {
		add("retired run", id, "", "", n.Outcomes[id].Reason)
	}
	for _, v := range n.Verdicts {
		add("verdict", strings.TrimSpace(fmt.Sprintf("%s: %s against %s, %s", v.Vehicle, v.Candidate, v.Base, v.Quantity)), v.Was, v.Is, "")
	}
	for _, p := range n.Passed {
		add("limit passed", p.Vehicle+" "+p.Calibration, "", p.String(), "")
	}
	for _, o := range n.SetAside {
		add("set aside", o.Source, "", "", o.Reason)
	}
	for _, o := range n.Waiting {
		add("waiting", o.Source, "", "", o.Reason)
	}
	for _, o := range n.SetAside {
		fmt.Fprintf(c.App.ErrWriter, "set aside: %s\n", result.Harmless(sourced(o.Source, o.Reason)))
	}
	sumUp(c, work, n)
	return printTable(c, texts("what", "subject", "was", "now", "note"), rows)
}

// sumUp says on stderr in one line what was done.
func sumUp(c *cli.Context, work *night.Work, n night.News) {
	at := fmt.Sprintf("the lake at %s, snapshot %d", lakePath(c), work.Now.Snapshot)
	if n.None() && !work.Written.Changed {
		say(c, "nothing new: %s, stands as the last refresh left it%s", at, waits(n))
		return
	}
	say(c, "%s: %s new, %d remade, %s; %s passed, %s set aside; %s computed%s, %d kept%s", at, plural(len(n.Runs), "run", "runs"), len(n.Remade),
		plural(len(n.Verdicts), "verdict changed", "verdicts changed"), plural(len(n.Passed), "more limit", "more limits"), plural(len(n.SetAside), "input", "inputs"),
		plural(len(work.Written.Computed), "table", "tables"), partly(work), len(work.Written.Kept), waits(n))
}

// partly says for how many vehicles tables were computed, where not for all.
func partly(work *night.Work) string {
	if len(work.Written.Partly) == 0 {
		return ""
	}
	return fmt.Sprintf(" (%d of them for %s of %d)", len(work.Written.Partly), plural(len(work.Written.News), "vehicle", "vehicles"), len(work.Now.Shares))
}

func waits(n night.News) string {
	if len(n.Waiting) == 0 {
		return ""
	}
	return fmt.Sprintf("; %s for the next time", plural(len(n.Waiting), "file waits", "files wait"))
}

// newRuns says of runs what they are: vehicle, calibration and test.
func newRuns(ctx context.Context, work *night.Work, ids []string) (map[string]string, error) {
	told := map[string]string{}
	if len(ids) == 0 {
		return told, nil
	}
	s, err := work.Open(ctx, nil, 1)
	if err != nil {
		return nil, err
	}
	err = eachRun(ctx, s, ids, func(r []any) {
		var words []string
		for _, v := range r[1:4] {
			if text, ok := v.(string); ok && text != "" {
				words = append(words, text)
			}
		}
		told[fmt.Sprint(r[0])] = strings.Join(words, " ")
	})
	return told, errors.Join(err, s.Close())
}

// eachRun hands on run_id, vehicle, calibration, test, platform and started_at of every run of a list.
func eachRun(ctx context.Context, s *engine.Session, ids []string, do func(row []any)) error {
	wanted := map[string]bool{}
	for _, id := range ids {
		wanted[id] = true
	}
	rows, err := s.Query(ctx, "SELECT run_id, vehicle, calibration, test, platform, started_at FROM runs ORDER BY run_id")
	if err != nil {
		return err
	}
	for rows.Next() {
		if id, ok := rows.Row()[0].(string); ok && wanted[id] {
			do(rows.Row())
		}
	}
	return errors.Join(rows.Err(), rows.Close())
}
