package night

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"

	"dynolake/queries/engine"
	"dynolake/queries/packs"
	"dynolake/queries/tables"
)

// deltaQuery is the comparison whose verdicts are news.
const deltaQuery = "torque/delta"

// compares reports whether a query is of two calibrations that its parameters base and candidate name.
func compares(p *packs.Pack) bool {
	has := func(name string) bool {
		return slices.ContainsFunc(p.Params, func(d packs.Param) bool { return d.Name == name })
	}
	return has("base") && has("candidate")
}

// pair is two calibrations, the second of which was the next to be run on some vehicles.
type pair struct {
	base, candidate string
	vehicles        []string
}

const inOrder = `SELECT vehicle, calibration FROM runs WHERE vehicle <> '' AND calibration <> ''
	GROUP BY vehicle, calibration ORDER BY vehicle, min(started_at) NULLS FIRST, calibration`

// pairs finds which calibration followed which among the vehicles of a session.
func pairs(ctx context.Context, s *engine.Session) ([]pair, error) {
	rows, err := s.Query(ctx, inOrder)
	if err != nil {
		return nil, fmt.Errorf("list the calibrations: %w", err)
	}
	all, err := rows.All()
	if err != nil {
		return nil, fmt.Errorf("list the calibrations: %w", err)
	}
	var list []pair
	for i := 1; i < len(all); i++ {
		if all[i][0] == all[i-1][0] {
			list = append(list, pair{fmt.Sprint(all[i-1][1]), fmt.Sprint(all[i][1]), []string{fmt.Sprint(all[i][0])}})
		}
	}
	slices.SortStableFunc(list, func(a, b pair) int {
		return cmp.Or(strings.Compare(a.base, b.base), strings.Compare(a.candidate, b.candidate))
	})
	var out []pair
	for _, p := range list {
		if last := len(out) - 1; last >= 0 && out[last].base == p.base && out[last].candidate == p.candidate {
			out[last].vehicles = append(out[last].vehicles, p.vehicles...)
			continue
		}
		out = append(out, p)
	}
	return out, nil
}

// deltas asks for each calibration of each vehicle against the one that was run before it; of a query that cannot be told of each vehicle apart,
// for every such pair on all vehicles. The order of the rows is that of their columns, vehicle first where there is one.
func deltas(p *packs.Pack) (tables.Query, error) {
	plain, err := p.SQL(nil)
	if err != nil {
		return tables.Query{}, fmt.Errorf("read query %s: %w", p.Name, err)
	}
	q := tables.Query{Pack: p, Statement: plain + "\n-- of each calibration and the one before"}
	if p.Apart != nil {
		q.Apart = []string{"vehicle"}
	}
	q.Of = func(ctx context.Context, s *engine.Session) (string, error) {
		list, err := pairs(ctx, s)
		if err != nil {
			return "", err
		}
		if len(list) == 0 {
			list = []pair{{vehicles: []string{""}}} // No rows, but the columns.
		}
		parts := make([]string, len(list))
		for i, one := range list {
			if parts[i], err = one.statement(p); err != nil {
				return "", fmt.Errorf("read query %s: %w", p.Name, err)
			}
		}
		order := "ALL"
		if p.Apart != nil {
			order = "vehicle, COLUMNS(*)"
		}
		return strings.Join(parts, "\nUNION ALL\n") + "\nORDER BY " + order, nil
	}
	return q, nil
}

// statement asks for the pair.
func (one pair) statement(p *packs.Pack) (string, error) {
	statement, err := p.SQL(map[string]string{"base": one.base, "candidate": one.candidate})
	statement = "SELECT * FROM (" + statement + "\n)"
	if p.Apart != nil {
		statement += " WHERE vehicle IN (" + texts(one.vehicles) + ")"
	}
	return statement, err
}

// texts writes names as SQL has them.
func texts(names []string) string {
	list := make([]string, len(names))
	for i, n := range names {
		list[i] = "'" + strings.ReplaceAll(n, "'", "''") + "'"
	}
	return strings.Join(list, ", ")
}
