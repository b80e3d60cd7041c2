package packs

import (
	"cmp"
	"context"
	"fmt"
	"slices"

	"dynolake/queries/engine"
)

// apart asks for each vehicle apart, where the query promises that its answer is made of theirs, and tells where it is not.
func (c testCase) apart(ctx context.Context, ask Ask, given map[string]engine.Rows, sql string, columns []string, whole [][]any) []string {
	if c.pack.Apart == nil {
		return nil
	}
	keys := make([]int, len(c.pack.Apart))
	for i, name := range c.pack.Apart {
		if keys[i] = slices.Index(columns, name); keys[i] < 0 {
			return []string{fmt.Sprintf("%s: the answer has no column %q, which the line `-- apart:` names", c.shown, name)}
		}
	}
	var rows [][]any
	for _, v := range vehiclesOf(given) {
		_, some, err := ask(ctx, ofVehicle(given, v), sql)
		if err != nil {
			return []string{fmt.Sprintf("%s: of vehicle %q alone: %v", c.shown, v, err)}
		}
		rows = append(rows, some...)
	}
	slices.SortStableFunc(rows, func(a, b []any) int { return Follow(a, b, keys) })
	for i := range min(len(rows), len(whole)) {
		if got, want := show(columns, rows[i]), show(columns, whole[i]); got != want {
			return []string{fmt.Sprintf("%s: asked for each vehicle apart, as `-- apart:` promises, row %d is %s, and of all together %s", c.shown, i+1, got, want)}
		}
	}
	if len(rows) != len(whole) {
		return []string{fmt.Sprintf("%s: asked for each vehicle apart, as `-- apart:` promises, there are %d rows, and of all together %d", c.shown, len(rows), len(whole))}
	}
	return nil
}

// Follow orders two rows by the texts in the columns keys as an answer is: nothing comes last.
func Follow(a, b []any, keys []int) int {
	for _, k := range keys {
		x, has := a[k].(string)
		y, too := b[k].(string)
		if has != too {
			if has {
				return -1
			}
			return 1
		}
		if order := cmp.Compare(x, y); order != 0 {
			return order
		}
	}
	return 0
}

// vehiclesOf lists the vehicles of the runs given, "" standing for none.
func vehiclesOf(given map[string]engine.Rows) []string {
	var list []string
	for _, v := range valuesOf(given["runs"], "vehicle") {
		name, _ := v.(string)
		list = append(list, name)
	}
	slices.Sort(list)
	return slices.Compact(list)
}

func valuesOf(r engine.Rows, column string) []any {
	list := make([]any, len(r.Values))
	if at := slices.Index(r.Columns, column); at >= 0 {
		for i, row := range r.Values {
			list[i] = row[at]
		}
	}
	return list
}

// ofVehicle leaves of rows given what belongs to one vehicle's runs; limits stay.
func ofVehicle(given map[string]engine.Rows, vehicle string) map[string]engine.Rows {
	runs, ids := given["runs"], map[any]bool{}
	of := valuesOf(runs, "vehicle")
	for i, id := range valuesOf(runs, "run_id") {
		if name, _ := of[i].(string); name == vehicle {
			ids[id] = true
		}
	}
	some := map[string]engine.Rows{}
	for view, rows := range given {
		key, has := "run_id", func(v any) bool { return ids[v] }
		switch view {
		case "limits":
			has = func(any) bool { return true }
		case "vehicles":
			key, has = "vehicle", func(v any) bool { return v == vehicle }
			if !slices.Contains(rows.Columns, key) {
				key = "id"
			}
		}
		left := engine.Rows{Columns: rows.Columns}
		for i, v := range valuesOf(rows, key) {
			if has(v) {
				left.Values = append(left.Values, rows.Values[i])
			}
		}
		some[view] = left
	}
	return some
}
