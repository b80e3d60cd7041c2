package main

import (
	"os"
	"path/filepath"
	"testing"
)

// The report says the same whether its numbers come from the tables that a refresh left or are computed.
func TestReportFromTablesIsTheSame(t *testing.T) {
	dir := t.TempDir()
	tinyLake(t, dir)
	root := filepath.Join(dir, "lake")
	must(t, "refresh", "--lake", root)
	kept, computed := filepath.Join(dir, "kept.html"), filepath.Join(dir, "computed.html")
	must(t, "report", "--lake", root, "--out", kept)
	if err := os.Remove(filepath.Join(root, "reports", "refresh.json")); err != nil { // Without it no table is taken.
		t.Fatal(err)
	}
	must(t, "report", "--lake", root, "--out", computed)
	a, err := os.ReadFile(kept)
	if err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(computed)
	if err != nil {
		t.Fatal(err)
	}
	if len(a) < 10_000 || string(a) != string(b) {
		t.Errorf("the report differs: %d bytes from tables, %d computed", len(a), len(b))
	}
}
