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

// take notes the runs of the part, for the views that know a run by its id alone, and lays the part's curves out where they are few.
func (s *Session) take(ctx context.Context, conn *connection) error {
	if s.part == nil {
		return nil
	}
	isFew, err := s.count(ctx, conn)
	if err == nil && isFew && len(s.files[curves]) > 0 {
		err = s.layOut(ctx, conn)
	}
	return err
}

// few is how many times as many runs a lake has at least than a part whose curves are laid out.
const few = 4

// count makes the table of the part's runs and reports whether they are few.
func (s *Session) count(ctx context.Context, conn *connection) (bool, error) {
	t, _ := schema.LookupTable("runs")
	query := emptyView(t)
	if files := s.files[t.Name]; len(files) > 0 {
		var err error
		if query, err = s.filesView(ctx, conn, t, files, ""); err != nil {
			return false, err
		}
	}
	if err := conn.run(ctx, "CREATE TABLE "+ident(partRuns)+" AS SELECT run_id FROM ("+query+")"+s.part.where(t.Name)); err != nil {
		return false, err
	}
	found, err := conn.collect(ctx, "SELECT (SELECT count(*) FROM "+ident(partRuns)+"), (SELECT count(*) FROM ("+query+"))")
	if err != nil {
		return false, err
	}
	some, _ := found[0][0].(int64)
	all, _ := found[0][1].(int64)
	return few*some <= all, nil
}
