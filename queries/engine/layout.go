package engine

import (
	"context"
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"dynolake/schema"
)

const curves = "curves"

// layOut copies the part's curves into temporary files: nearly every query reads them, most several times, and looking through a year's for those of a
// few vehicles takes as long as what is then reckoned from them.
func (s *Session) layOut(ctx context.Context, conn *connection) error {
	if err := s.folder(); err != nil {
		return err
	}
	t, _ := schema.LookupTable(curves)
	pieces, err := s.pieces(ctx, conn, t)
	if err != nil {
		return err
	}
	s.laid = make([]string, len(pieces))
	for i, query := range pieces { // One after the other: together they would hold a row group of each.
		s.laid[i] = text(literal(filepath.Join(s.temp, fmt.Sprintf("%s-%d.parquet", curves, i))))
		err := conn.run(ctx, "COPY (SELECT * FROM ("+query+")"+s.part.where(curves)+") TO "+s.laid[i]+" (FORMAT parquet, COMPRESSION uncompressed, ROW_GROUP_SIZE 16384)") // Small groups: a row has a hundred columns.
		if err != nil {
			return err
		}
	}
	return s.showLaid(ctx, conn)
}

// showLaid makes the view of what was laid out.
func (s *Session) showLaid(ctx context.Context, conn *connection) error {
	err := conn.run(ctx, s.creation(curves, "SELECT * FROM read_parquet(["+strings.Join(s.laid, ", ")+"])"))
	s.made[curves] = err == nil
	return err
}

// pieces are queries that give the part's curves, and others. A compacted file has each vehicle's rows in one stretch, and the engine passes over the row
// groups before and behind it; of a condition on run_id, whose order is none, it would read every value of every column first. Files of about one row group are read
// whole, in one query.
func (s *Session) pieces(ctx context.Context, conn *connection, t schema.Table) ([]string, error) {
	files := s.files[t.Name]
	if err := s.fieldIDs(ctx, conn, s.paths(files)); err != nil {
		return nil, fmt.Errorf("read table %s: %w", t.Name, err)
	}
	list, err := s.extents(ctx, conn, t, files)
	if err != nil {
		return nil, err
	}
	var queries, whole []string
	for _, e := range list {
		if e.rows <= oneGroup || len(list) > mostExtents {
			if file := files[e.file]; len(whole) == 0 || whole[len(whole)-1] != file {
				whole = append(whole, file)
			}
			continue
		}
		queries = append(queries, s.scan(t, files[e.file:e.file+1], fmt.Sprintf(" WHERE file_row_number BETWEEN %d AND %d", e.from, e.to)))
	}
	if len(queries) == 0 && len(whole) == 0 {
		whole = files[:1] // None of its rows, but the columns.
	}
	if len(whole) > 0 {
		queries = append(queries, s.scan(t, whole, ""))
	}
	return queries, nil
}

const (
	oneGroup    = 1 << 15 // Rows.
	mostExtents = 64      // Of more, each is of little beside its own cost.
)

// extent is rows of a file between which there are few others.
type extent struct {
	file     int // Its place among the table's files.
	from, to int64
	rows     int64 // Of the whole file.
}

// extents finds where in the files the rows of the part's runs lie.
func (s *Session) extents(ctx context.Context, conn *connection, t schema.Table, files []string) ([]extent, error) {
	paths, place := s.paths(files), map[string]int{}
	for i, f := range files {
		place[filepath.Join(s.root, filepath.FromSlash(f))] = i
	}
	id, _ := t.Column("run_id")
	found, err := conn.collect(ctx, fmt.Sprintf(`WITH hit AS (
			SELECT filename AS file, file_row_number AS n FROM read_parquet([%[1]s], schema = MAP {%[2]d: {name: 'run_id', type: 'VARCHAR', default_value: NULL}})
			WHERE run_id IN (SELECT run_id FROM %[3]s)),
		step AS (SELECT file, n, CASE WHEN n - lag(n) OVER (PARTITION BY file ORDER BY n) <= 2048 THEN 0 ELSE 1 END AS apart FROM hit),
		numbered AS (SELECT file, n, sum(apart) OVER (PARTITION BY file ORDER BY n) AS no FROM step)
		SELECT file, min(n), max(n), max(num_rows) FROM numbered JOIN parquet_file_metadata([%[1]s]) ON file_name = file
		GROUP BY file, no ORDER BY min(n)`, strings.Join(paths, ", "), id.ID, ident(partRuns)))
	if err != nil {
		return nil, fmt.Errorf("find the part's rows: %w", err)
	}
	list := make([]extent, len(found))
	for i, row := range found {
		name, _ := row[0].(string)
		at, ok := place[name]
		if !ok {
			return nil, fmt.Errorf("find the part's rows: %q is none of the files", name)
		}
		list[i].file = at
		for k, to := range []*int64{&list[i].from, &list[i].to, &list[i].rows} {
			*to, _ = row[k+1].(int64)
		}
	}
	slices.SortStableFunc(list, func(a, b extent) int { return a.file - b.file })
	return list, nil
}
