package engine

import (
	"context"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func openGiven(t *testing.T, given map[string]Rows) *Session {
	t.Helper()
	s, err := OpenTables(t.Context(), given, Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	return s
}

func ask(t *testing.T, s *Session, statement string) [][]any {
	t.Helper()
	rows, err := s.Query(t.Context(), statement)
	if err != nil {
		t.Fatalf("%s: %v", statement, err)
	}
	all, err := rows.All()
	if err != nil {
		t.Fatalf("%s: %v", statement, err)
	}
	return all
}

func TestOpenTables(t *testing.T) {
	s := openGiven(t, map[string]Rows{
		"runs":    {Columns: []string{"run_id", "started_at", "rows"}, Values: [][]any{{"0000000000000001", "2026-03-04T10:11:12Z", 3}, {"0000000000000002", nil, "4"}}},
		"samples": {Columns: []string{"run_id", "t_s", "boost_kpa", "gear"}, Values: [][]any{{"0000000000000001", 0.5, "151.6", 3}}},
	})
	got := ask(t, s, "SELECT r.run_id, year(started_at), rows, boost_kpa, gear, map_kpa FROM runs r LEFT JOIN samples USING (run_id) ORDER BY 1")
	want := [][]any{
		{"0000000000000001", int64(2026), int64(3), float32(151.6), int64(3), nil},
		{"0000000000000002", nil, int64(4), nil, nil, nil},
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
	for _, view := range viewNames() {
		ask(t, s, "SELECT * FROM "+view)
		if got, want := len(ask(t, s, "DESCRIBE "+view)), len(Views()[view]); got != want {
			t.Errorf("%s has %d columns, want %d", view, got, want)
		}
	}
	if got := ask(t, s, "SHOW TABLES"); len(got) != len(viewNames()) {
		t.Errorf("SHOW TABLES gives %v", got)
	}
	if _, err := OpenTables(context.Background(), map[string]Rows{"runs": {Columns: []string{"colour"}}}, Options{}); err == nil {
		t.Error("a column that runs does not have was taken")
	}
}
