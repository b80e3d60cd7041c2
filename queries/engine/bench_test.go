package engine

import (
	"database/sql"
	"fmt"
	"path/filepath"
	"strings"
	"testing"

	_ "github.com/duckdb/duckdb-go/v2"
)

const groupBy = "SELECT floor(engine_speed_rpm / 250) AS bin, avg(boost_kpa) AS boost FROM samples GROUP BY 1 ORDER BY 1"

// BenchmarkOpen opens a session over a lake of many files and asks it nothing of them.
func BenchmarkOpen(b *testing.B) {
	for _, n := range []int{20, 2000} {
		snap := writeRuns(b, b.TempDir(), n, 20)
		b.Run(fmt.Sprintf("files=%d", n), func(b *testing.B) {
			for b.Loop() {
				s, err := Open(b.Context(), snap, Options{})
				if err != nil {
					b.Fatal(err)
				}
				read(b, s, "SELECT 1")
				_ = s.Close()
			}
		})
	}
}

// BenchmarkGroupBy reads two columns of 500 files, through a session and with the database alone.
func BenchmarkGroupBy(b *testing.B) {
	snap := writeRuns(b, b.TempDir(), 500, 3000)
	b.Run("session", func(b *testing.B) {
		s := open(b, snap, Options{})
		for b.Loop() {
			read(b, s, groupBy)
		}
	})
	b.Run("database alone", func(b *testing.B) {
		db, err := sql.Open("duckdb", "")
		if err != nil {
			b.Fatal(err)
		}
		defer func() { _ = db.Close() }()
		paths := make([]string, len(snap.Files["samples"]))
		for i, f := range snap.Files["samples"] {
			paths[i] = text(filepath.Join(snap.Root, f))
		}
		statement := strings.Replace(groupBy, "samples", "read_parquet(["+strings.Join(paths, ", ")+"])", 1)
		for b.Loop() {
			if err := drain(db, statement); err != nil {
				b.Fatal(err)
			}
		}
	})
}

// drain reads a statement's rows through database/sql.
func drain(db *sql.DB, statement string) error {
	rows, err := db.Query(statement)
	if err != nil {
		return err
	}
	defer func() { _ = rows.Close() }()
	for rows.Next() {
	}
	return rows.Err()
}

// BenchmarkRows counts how fast rows come out of a session.
func BenchmarkRows(b *testing.B) {
	s := open(b, writeRuns(b, b.TempDir(), 50, 2000), Options{})
	for b.Loop() {
		read(b, s, "SELECT * FROM samples")
	}
	b.ReportMetric(100_000*float64(b.N)/b.Elapsed().Seconds(), "rows/s")
}

func read(b *testing.B, s *Session, statement string) {
	rows, err := s.Query(b.Context(), statement)
	if err != nil {
		b.Fatal(err)
	}
	for rows.Next() {
	}
	if err := rows.Close(); err != nil {
		b.Fatal(err)
	}
}
