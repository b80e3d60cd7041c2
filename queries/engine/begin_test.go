package engine

import (
	"context"
	"os"
	"path/filepath"
	"testing"
	"time"
)

func TestBegin(t *testing.T) {
	t.Setenv("TMPDIR", t.TempDir())
	snap := writeRuns(t, filepath.Join(t.TempDir(), "lake"), 1, 10)
	o := Options{Memory: 512 << 20, Threads: 1, Timeout: time.Hour}
	o.Begun = Begin(t.Context(), o)
	s, err := Open(t.Context(), snap, o)
	if err != nil {
		t.Fatal(err)
	}
	if err := o.Begun.Drop(); err != nil { // A session has it.
		t.Fatal(err)
	}
	if got := ask(t, s, "SELECT count(*) FROM samples")[0][0]; got != int64(10) || s.timeout != time.Hour {
		t.Errorf("got %v rows, time limit %s", got, s.timeout)
	}
	rows, err := s.Query(t.Context(), "SELECT t_s FROM samples")
	if err != nil {
		t.Fatal(err)
	}
	if err := s.folder(); err != nil {
		t.Fatal(err)
	}
	if err := s.Leave(); err != nil {
		t.Fatal(err)
	}
	if left, err := os.ReadDir(os.TempDir()); err != nil || len(left) > 0 {
		t.Errorf("left %v, %v", left, err)
	}
	time.Sleep(300 * time.Millisecond) // The memory is given back meanwhile, save what the open rows need.
	if all, err := rows.All(); err != nil || len(all) != 10 {
		t.Errorf("%d rows, %v", len(all), err)
	}
}

func TestDropOfWhatNobodyTook(t *testing.T) {
	b := Begin(t.Context(), Options{})
	if err := b.Drop(); err != nil || b.s.db.handle.Ptr != nil {
		t.Errorf("got %v, handle %v, want it closed", err, b.s.db.handle.Ptr)
	}
	ended, end := context.WithCancel(t.Context())
	end()
	b = Begin(ended, Options{})
	if _, err := Open(t.Context(), writeRuns(t, filepath.Join(t.TempDir(), "lake"), 1, 1), Options{Begun: b}); err == nil {
		t.Error("a database whose opening was cancelled was taken")
	}
	if err := b.Drop(); err != nil {
		t.Error(err)
	}
}

// What files say of themselves is kept for the statements to come, where any are to come.
func TestOnce(t *testing.T) {
	snap := writeRuns(t, filepath.Join(t.TempDir(), "lake"), 1, 1)
	for once, want := range map[bool]string{true: "false", false: "true"} {
		s := open(t, snap, Options{Once: once})
		conn, err := s.db.connect()
		if err != nil {
			t.Fatal(err)
		}
		defer conn.close()
		got, err := conn.collect(t.Context(), "SELECT value FROM duckdb_settings() WHERE name = 'parquet_metadata_cache'")
		if err != nil || len(got) != 1 || got[0][0] != want {
			t.Errorf("once %v: got %v, %v, want %s", once, got, err, want)
		}
	}
}
