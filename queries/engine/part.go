package engine

import (
	"context"
	"slices"
	"strings"

	"dynolake/schema"
)

// part is the vehicles whose rows a session has; nil for all of them.
type part []string

// partRuns is the table of their runs, which no statement is let to name.
const partRuns = "runs of the part"

// where is the condition that a view's rows meet; empty where all do.
func (p part) where(view string) string {
	switch {
	case p == nil || view == "limits":
		return ""
	case view == "runs" || view == "vehicles":
		return " WHERE " + p.condition()
	}
	return " WHERE run_id IN (SELECT run_id FROM " + ident(partRuns) + ")"
}

func (p part) condition() string {
	names := make([]string, len(p))
	for i, v := range p {
		names[i] = text(v)
	}
	condition := "vehicle IN (" + strings.Join(names, ", ") + ")"
	if len(names) == 0 {
		condition = "false"
	}
	if slices.Contains(p, "") {
		condition += " OR vehicle IS NULL"
	}
	return condition
}

// take notes the runs of the part, for the views that know a run by its id alone.
func (s *Session) take(ctx context.Context, conn *connection) error {
	if s.part == nil {
		return nil
	}
	t, _ := schema.LookupTable("runs")
	query := emptyView(t)
	if files := s.files[t.Name]; len(files) > 0 {
		var err error
		if query, err = s.filesView(ctx, conn, t, files); err != nil {
			return err
		}
	}
	return conn.run(ctx, "CREATE TABLE "+ident(partRuns)+" AS SELECT run_id FROM ("+query+")")
}
