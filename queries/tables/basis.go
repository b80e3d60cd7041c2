package tables

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"maps"
	"slices"
	"strings"

	"dynolake/queries/engine"
	"dynolake/schema"
)

// Version is of how tables are written: it rises when the same answers would give other bytes.
const Version = "1"

// Inputs is what tables are made from beside the statement.
type Inputs struct {
	Snapshot schema.Snapshot
	Contents map[string]string // By table what stands for its rows, in whichever files they lie; without it the files do. What is of no single run stands under "".
	Vehicles []schema.Vehicle
	Limits   []schema.Limit
	Columns  []engine.UserColumn
}

// basis stands for all that a table's bytes follow from.
func (in Inputs) basis(statement string, units map[string]string, reads []string) string {
	return in.mark(statement, units, reads, func(view string) any {
		if rows, ok := in.Contents[view]; ok {
			return rows
		}
		return strings.Join(in.Snapshot.Files[view], "\n")
	})
}

// common is the basis but for what is of single vehicles.
func (in Inputs) common(q Query, reads []string) string {
	all := in
	all.Vehicles = nil
	return all.mark(q.Statement+"\n"+strings.Join(q.Apart, ","), q.Pack.Units(), reads, func(string) any { return in.Contents[""] })
}

func (in Inputs) mark(statement string, units map[string]string, reads []string, rows func(view string) any) string {
	h := sha256.New()
	add := func(key string, v any) { _, _ = fmt.Fprintf(h, "%s=%#v\n", key, v) } // A hash takes every write.
	add("version", Version)
	add("macros", engine.MacrosSQL())
	add("statement", statement)
	for _, name := range slices.Sorted(maps.Keys(units)) {
		add("unit "+name, units[name])
	}
	for _, view := range reads {
		switch view {
		case "vehicles":
			add(view, in.Vehicles)
		case "limits":
			for _, l := range in.Limits {
				add(view, []string{l.Column, fmt.Sprint(l.Max), fmt.Sprint(l.Min), l.Vehicle, l.Platform, l.Duty, l.Test, l.Note})
			}
		default:
			add(view, rows(view))
		}
	}
	for _, c := range in.Columns {
		add("column", []string{c.Name, c.Unit, c.Formula})
	}
	return hex.EncodeToString(h.Sum(nil)[:16])
}

// short stands for a text.
func short(text string) string {
	sum := sha256.Sum256([]byte(text))
	return hex.EncodeToString(sum[:8])
}

// names gives each query its table's name: PACK_QUERY, PACK_QUERY_PART where it has a part, and PACK__QUERY where that is another's.
func names(set []Query) map[string]string {
	out, taken := map[string]string{}, map[string]bool{}
	for _, q := range set {
		name := strings.ReplaceAll(q.key(), "/", "_")
		for taken[name] {
			name = strings.Replace(name, "_", "__", 1)
		}
		taken[name], out[q.key()] = true, name
	}
	return out
}

// key tells a query from the others.
func (q Query) key() string {
	if q.Part == "" {
		return q.Pack.Name
	}
	return q.Pack.Name + "/" + q.Part
}

// literal writes a path so that none of it is a pattern.
func literal(path string) string {
	return strings.NewReplacer("[", `\[`, "*", `\*`, "?", `\?`, `\`, `\\`).Replace(path)
}
