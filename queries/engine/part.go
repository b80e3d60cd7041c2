package engine

import (
	"context"
	"path/filepath"
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
	t, _ := schema.LookupTable("runs")
	query := emptyView(t)
	if files := s.files[t.Name]; len(files) > 0 {
		var err error
		if query, err = s.filesView(ctx, conn, t, files, ""); err != nil {
			return err
		}
	}
	if err := conn.run(ctx, "CREATE TABLE "+ident(partRuns)+" AS SELECT run_id FROM ("+query+")"+s.part.where(t.Name)); err != nil {
		return err
	}
	found, err := conn.collect(ctx, "SELECT (SELECT count(*) FROM "+ident(partRuns)+"), (SELECT count(*) FROM ("+query+"))")
	if err != nil {
		return err
	}
	some, _ := found[0][0].(int64)
	all, _ := found[0][1].(int64)
	if few*some > all || len(s.files[curves]) == 0 {
		return nil
	}
	return s.layOut(ctx, conn)
}

const curves = "curves"

// few is how many times as many runs a lake has at least than a part whose curves are laid out.
const few = 4

// layOut copies the part's curves into a temporary file: nearly every query reads them, most several times, and looking through a year's for those of a
// few vehicles takes as long as what is then reckoned from them.
func (s *Session) layOut(ctx context.Context, conn *connection) error {
	if err := s.folder(); err != nil {
		return err
	}
	t, _ := schema.LookupTable(curves)
	file := text(literal(filepath.Join(s.temp, curves+".parquet")))
	query, err := s.filesView(ctx, conn, t, s.files[curves], s.part.where(curves))
	if err == nil {
		err = conn.run(ctx, "COPY ("+query+") TO "+file+" (FORMAT parquet, COMPRESSION uncompressed, ROW_GROUP_SIZE 16384)") // Small groups: a row has hundreds of columns.
	}
	if err == nil {
		err = conn.run(ctx, s.creation(curves, "SELECT * FROM read_parquet("+file+")"))
	}
	s.made[curves] = err == nil
	return err
}
