package lake

import (
	"context"
	"database/sql"
	"fmt"
	"iter"
	"maps"
	"path"
	"slices"

	"dynolake/schema"
)

func keys(m map[string]int64) iter.Seq[string] { return maps.Keys(m) }

// month is the folder of a run's samples.
func month(r schema.Run) string {
	if r.StartedAt == nil || r.StartedAt.IsZero() {
		return "unknown"
	}
	return r.StartedAt.UTC().Format("2006-01")
}

func (s *saving) samplesPath(r schema.Run) string {
	return path.Join("samples", "month="+month(r), r.ID+"-"+s.commit.Name+".parquet")
}

func (s *saving) smallPath(table string) string {
	return path.Join(table, fmt.Sprintf("%08d-%s.parquet", s.commit.Number, s.commit.Name))
}

// blobs lists the archived bytes that an entry stands on.
func (e Entry) blobs() []string {
	list := slices.Clone(e.Blobs)
	for _, s := range e.Sources {
		list = append(list, s.SHA256)
	}
	slices.Sort(list)
	return slices.Compact(list)
}

// parts counts the entry's rows in every table.
func (e Entry) parts() map[string]int64 {
	return map[string]int64{"runs": 1, "samples": int64(e.Frame.Len()), "segments": int64(len(e.Segments)), "curves": int64(len(e.Curves)),
		"sources": int64(len(e.Sources)), "unmapped": int64(len(e.Unmapped)), "findings": int64(len(e.Findings))}
}

// roundings says which whole-number columns were logged with fractions, which the lake does not hold.
func roundings(d schema.RunData) []schema.Finding {
	n := rounded(d.Frame)
	var list []schema.Finding
	for _, name := range slices.Sorted(maps.Keys(n)) {
		missing := schema.Missing(1)[0]
		list = append(list, schema.Finding{RunID: d.Run.ID, Severity: schema.Note, Code: "rounded_to_whole", Channel: name,
			Text:  fmt.Sprintf("%d values of %s are no whole numbers and were rounded to the nearest", n[name], name),
			Value: float64(n[name]), Unit: "1", T0S: missing, T1S: missing})
	}
	return list
}

// enter writes a commit into the catalogue.
func (s *saving) enter(ctx context.Context, tx *sql.Tx) error {
	e := entering{ctx: ctx, tx: tx}
	at := s.moment.wall
	e.do(`INSERT INTO snapshots (id, name, at) VALUES (?, ?, ?)`, s.commit.Number, s.commit.Name, s.commit.At.UnixMicro())
	e.dated(s.moment)
	if s.rewritten {
		e.do(`INSERT OR REPLACE INTO meta VALUES ('rewritten', ?)`, s.commit.Number)
	}
	for _, p := range s.commit.Replaces {
		e.do(`UPDATE files SET removed = ?, removed_at = ? WHERE path = ?`, s.commit.Number, at, p)
	}
	for owner, stored := range s.gone {
		if s.damaged != nil {
			e.do(`INSERT OR REPLACE INTO awaiting SELECT run_id, fingerprint, depends FROM runs WHERE run_id = ?`, owner)
		} else {
			e.do(`DELETE FROM awaiting WHERE run_id = ?`, owner)
		}
		if stored {
			e.do(`DELETE FROM runs WHERE run_id = ?`, owner)
			e.do(`DELETE FROM refusals WHERE sha256 = ?`, owner)
		}
	}
	for _, f := range s.written {
		e.file(f, s.commit.Number)
	}
	for owner, f := range s.facts {
		e.owner(owner, f)
	}
	for _, b := range s.blobs {
		e.do(`INSERT INTO blobs (sha256, bytes, stored) VALUES (?, ?, ?) ON CONFLICT DO UPDATE SET stored = excluded.stored`, b.SHA256, b.Size, b.stored)
	}
	return e.err
}

// entering does statements until one fails.
type entering struct {
	ctx context.Context
	tx  *sql.Tx
	err error
}

func (e *entering) do(statement string, args ...any) {
	if e.err == nil {
		_, e.err = e.tx.ExecContext(e.ctx, statement, args...)
	}
}

func (e *entering) file(f fileFact, number int64) {
	e.do(`INSERT INTO files (path, tbl, month, sha256, bytes, rows, added) VALUES (?, ?, ?, ?, ?, ?, ?)`,
		f.Path, f.Table, f.Month, f.SHA256, f.Bytes, f.Rows, number)
	for owner, rows := range f.Owners {
		e.do(`INSERT INTO owners (owner, path, rows) VALUES (?, ?, ?)`, owner, f.Path, rows)
	}
}

func (e *entering) owner(owner string, f ownerFact) {
	if runForm.MatchString(owner) {
		e.do(`INSERT OR REPLACE INTO runs (run_id, fingerprint, depends) VALUES (?, ?, ?)`, owner, f.Fingerprint, f.Depends)
		return
	}
	e.do(`INSERT OR REPLACE INTO refusals (sha256, digest) VALUES (?, ?)`, owner, f.Digest)
}
