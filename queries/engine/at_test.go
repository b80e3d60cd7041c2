package engine

import (
	"path/filepath"
	"strings"
	"testing"
)

func TestQuotedAt(t *testing.T) {
	for statement, want := range map[string]string{
		"SELECT at FROM findings":                                    `SELECT "at" FROM findings`,
		"SELECT max(At), f.at FROM findings f WHERE at>'at'":         `SELECT max("At"), f."at" FROM findings f WHERE "at">'at'`,
		`SELECT "at", 'it''s at' AS at -- at` + "\n":                 `SELECT "at", 'it''s at' AS "at" -- at` + "\n",
		"SELECT started_at AT TIME ZONE 'UTC', at/*at*/at time zone": `SELECT started_at AT TIME ZONE 'UTC', "at"/*at*/at time zone`,
		"SELECT $$ at $$, $x$ at $ $x$, $at, at":                     `SELECT $$ at $$, $x$ at $ $x$, $at, "at"`,
		"SELECT 'at":                                                 "SELECT 'at",
		"SELECT cat, at_rpm, rate, ät, at2 FROM x ORDER BY at":       `SELECT cat, at_rpm, rate, ät, at2 FROM x ORDER BY "at"`,
	} {
		if got := quotedAt(statement); got != want {
			t.Errorf("%s\n got %s\nwant %s", statement, got, want)
		}
	}
}

// The column at of findings can be named as it is; what does not parse for another reason says so as it was written.
func TestAskAt(t *testing.T) {
	snap := writeRuns(t, t.TempDir(), 1, 1)
	writeTable(t, filepath.Join(snap.Root, "findings/a.parquet"), "findings", cells{"run_id": {id(0), id(0)}, "code": {"a", "b"}, "value": {1.0, 2.0}})
	snap.Files["findings"] = []string{"findings/a.parquet"}
	s := open(t, snap, Options{})
	for _, statement := range []string{
		"SELECT at FROM findings", "SELECT code FROM findings WHERE at IS NULL", "SELECT max(at) FROM findings", "SELECT code, at FROM findings ORDER BY at DESC, code",
		"SELECT max(at AT TIME ZONE 'UTC') FROM findings", "SELECT at, 1 FROM findings", "SELECT * EXCLUDE (at) FROM findings",
	} {
		if rows := ask(t, s, statement); len(rows) == 0 {
			t.Errorf("%s: no rows", statement)
		}
	}
	for statement, want := range map[string]string{"SELECT at FROM": "syntax error", "SELECT wrong, at FROM findings": `no column "wrong"`} {
		if _, err := s.Query(t.Context(), statement); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: got %v, want %q", statement, err, want)
		}
	}
}
