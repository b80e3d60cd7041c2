package night

import (
	"cmp"
	"context"
	"fmt"
	"maps"
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

// pair is two calibrations, the second of which was the next to be run.
type pair struct{ base, candidate string }

// followed holds the vehicles on which the one followed the other, by pair.
type followed map[pair][]string

const inOrder = `SELECT vehicle, calibration FROM runs WHERE vehicle <> '' AND calibration <> ''
	GROUP BY vehicle, calibration ORDER BY vehicle, min(started_at) NULLS FIRST, calibration`

// pairs lists for each vehicle of a session, in order, which of its calibrations followed which.
func pairs(ctx context.Context, s *engine.Session) (vehicles []string, of map[string][]pair, err error) {
	rows, err := s.Query(ctx, inOrder)
	if err != nil {
		return nil, nil, fmt.Errorf("list the calibrations: %w", err)
	}
	all, err := rows.All()
	if err != nil {
		return nil, nil, fmt.Errorf("list the calibrations: %w", err)
	}
	of = map[string][]pair{}
	for i := 1; i < len(all); i++ {
		if all[i][0] != all[i-1][0] {
			continue
		}
		v := fmt.Sprint(all[i][0])
		if of[v] == nil {
			vehicles = append(vehicles, v)
		}
		of[v] = append(of[v], pair{fmt.Sprint(all[i-1][1]), fmt.Sprint(all[i][1])})
	}
	return vehicles, of, nil
}

// together is how many pairs one statement asks about: what it holds grows with them.
const together = 4

// stretches parts the vehicles, in order, so that each part has few pairs, or is one vehicle.
func stretches(vehicles []string, of map[string][]pair) (list []followed) {
	for _, v := range vehicles {
		last := len(list) - 1
		more := followed{}
		if last >= 0 {
			maps.Copy(more, list[last])
		}
		for _, p := range of[v] {
			more[p] = append(slices.Clone(more[p]), v)
		}
		if last >= 0 && len(more) <= together {
			list[last] = more
			continue
		}
		own := followed{}
		for _, p := range of[v] {
			own[p] = []string{v}
		}
		list = append(list, own)
	}
	return list
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
	q.Of = func(ctx context.Context, s *engine.Session) ([]tables.Ask, error) {
		vehicles, of, err := pairs(ctx, s)
		if err != nil {
			return nil, err
		}
		list := stretches(vehicles, of)
		if p.Apart == nil || len(list) == 0 {
			list = []followed{{}}
			for _, v := range vehicles {
				for _, one := range of[v] {
					list[0][one] = nil
				}
			}
		}
		asks := make([]tables.Ask, len(list))
		for i, f := range list {
			if asks[i], err = f.ask(p); err != nil {
				return nil, fmt.Errorf("read query %s: %w", p.Name, err)
			}
		}
		return asks, nil
	}
	return q, nil
}

// ask asks for the pairs in one statement, each on its vehicles where they are named.
func (f followed) ask(p *packs.Pack) (tables.Ask, error) {
	if len(f) == 0 {
		f = followed{pair{}: nil} // No rows, but the columns.
	}
	order, named := "ALL", map[string]bool{}
	if p.Apart != nil {
		order = "vehicle, COLUMNS(*)"
	}
	var parts []string
	for _, one := range slices.SortedFunc(maps.Keys(f), func(a, b pair) int { return cmp.Or(cmp.Compare(a.base, b.base), cmp.Compare(a.candidate, b.candidate)) }) {
		statement, err := p.SQL(map[string]string{"base": one.base, "candidate": one.candidate})
		if err != nil {
			return tables.Ask{}, err
		}
		statement = "SELECT * FROM (" + statement + "\n)"
		if f[one] != nil {
			statement += " WHERE vehicle IN (" + texts(f[one]) + ")"
		}
		parts = append(parts, statement)
		for _, v := range f[one] {
			named[v] = true
		}
	}
	return tables.Ask{Vehicles: slices.Sorted(maps.Keys(named)), Statement: strings.Join(parts, "\nUNION ALL\n") + "\nORDER BY " + order}, nil
}

// texts writes names as SQL has them.
func texts(names []string) string {
	list := make([]string, len(names))
	for i, n := range names {
		list[i] = "'" + strings.ReplaceAll(n, "'", "''") + "'"
	}
	return strings.Join(list, ", ")
}
