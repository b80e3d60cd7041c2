package night

import (
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

// Pair is two calibrations, the second of which followed the first on some vehicle.
type Pair struct {
	Base      string `json:"base"`
	Candidate string `json:"candidate"`
}

const inOrder = `SELECT vehicle, calibration FROM runs WHERE vehicle <> '' AND calibration <> ''
	GROUP BY vehicle, calibration ORDER BY vehicle, min(started_at) NULLS FIRST, calibration`

// pairs finds which calibration followed which, on any vehicle.
func (w *Work) pairs(ctx context.Context) ([]Pair, error) {
	if w.Was.Data == w.Now.Data && w.Was.Format > 0 {
		return w.Was.Pairs, nil
	}
	var list []Pair
	err := w.with(ctx, func(s *engine.Session) error {
		rows, err := s.Query(ctx, inOrder)
		if err != nil {
			return err
		}
		all, err := rows.All()
		for i := 1; i < len(all); i++ {
			if all[i][0] == all[i-1][0] {
				list = append(list, Pair{fmt.Sprint(all[i-1][1]), fmt.Sprint(all[i][1])})
			}
		}
		return err
	})
	slices.SortFunc(list, func(a, b Pair) int { return strings.Compare(a.Base+keySign+a.Candidate, b.Base+keySign+b.Candidate) })
	return slices.Compact(list), err
}

// deltas asks for every pair in one statement; the order of its rows is that of their columns.
func (w *Work) deltas(ctx context.Context, p *packs.Pack) (tables.Query, error) {
	pairs, err := w.pairs(ctx)
	if err != nil {
		return tables.Query{}, fmt.Errorf("list the calibrations: %w", err)
	}
	w.Now.Pairs = pairs
	if len(pairs) == 0 {
		pairs = []Pair{{}} // No rows, but the columns.
	}
	parts := make([]string, len(pairs))
	for i, pair := range pairs {
		statement, err := p.SQL(map[string]string{"base": pair.Base, "candidate": pair.Candidate})
		if err != nil {
			return tables.Query{}, fmt.Errorf("read query %s: %w", p.Name, err)
		}
		parts[i] = "SELECT * FROM (" + statement + "\n)"
	}
	return tables.Query{Pack: p, Statement: strings.Join(parts, "\nUNION ALL\n") + "\nORDER BY ALL"}, nil
}
