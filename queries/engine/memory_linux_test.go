package engine

import (
	"errors"
	"fmt"
	"os"
	"testing"
)

// Memory does not grow with the rows that are read.
func TestReadingTakesLittleMemory(t *testing.T) {
	s, err := OpenTables(t.Context(), nil, Options{Memory: 128 << 20, Threads: 2})
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = s.Close() }()
	before := resident(t)
	rows, err := s.Query(t.Context(), "SELECT range, hash(range) AS h, range / 3 AS x FROM range(20000000)")
	if err != nil {
		t.Fatal(err)
	}
	var most int64
	for n := 0; rows.Next(); n++ {
		if n%1_000_000 == 0 {
			most = max(most, resident(t))
		}
	}
	if err := errors.Join(rows.Err(), rows.Close()); err != nil {
		t.Fatal(err)
	}
	if grown := most - before; grown > 200<<20 { // Held whole, the rows are 480 MB.
		t.Errorf("memory grew by %d MB", grown>>20)
	}
}

// resident is the memory of this process, in bytes.
func resident(t *testing.T) int64 {
	t.Helper()
	status, err := os.ReadFile("/proc/self/statm")
	if err != nil {
		t.Fatal(err)
	}
	var size, pages int64
	if _, err := fmt.Sscan(string(status), &size, &pages); err != nil {
		t.Fatal(err)
	}
	return pages * int64(os.Getpagesize())
}
