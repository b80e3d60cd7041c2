package main

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"dynolake/queries/tables"
)

// TestRefreshMergesSmallFiles holds that a refresh merges many small files by itself, and that neither its merging nor one by hand makes a
// table anew: the folder of the tables stays the one that it was.
func TestRefreshMergesSmallFiles(t *testing.T) {
	lake, logs := filepath.Join(t.TempDir(), "lake"), t.TempDir()
	must(t, "init", "--lake", lake)
	log := func(folder string, i int) string {
		path := filepath.Join(folder, fmt.Sprintf("log%d.csv", i))
		if err := os.WriteFile(path, fmt.Appendf(nil, "Time [s],RPM [1/min],MAP [kPa abs]\n0,%d,101\n0.1,801,102\n", 700+i), 0o644); err != nil {
			t.Fatal(err)
		}
		return path
	}
	for i := range 20 {
		must(t, "ingest", "--lake", lake, log(logs, i))
	}
	files := func() int {
		list, err := filepath.Glob(filepath.Join(lake, "runs", "*.parquet"))
		if err != nil {
			t.Fatal(err)
		}
		return len(list)
	}
	told := func(args ...string) string {
		var text bytes.Buffer
		if code := run(t.Context(), append([]string{"dynolake"}, args...), io.Discard, &text); code != 0 {
			t.Fatalf("%q: exit %d: %s", args, code, text.String())
		}
		return text.String()
	}
	log(filepath.Join(lake, "inbox"), 20)
	before := files()
	if text := told("refresh", "--lake", lake); !strings.Contains(text, "larger one") || files() != before+2 { // What was merged stays for readers that began before.
		t.Errorf("the refresh merged nothing: %d files, before %d; it said %q", files(), before, text)
	}
	made, err := os.Stat(filepath.Join(lake, tables.Folder))
	if err != nil {
		t.Fatal(err)
	}
	must(t, "compact", "--lake", lake)
	told("refresh", "--lake", lake)
	now, err := os.Stat(filepath.Join(lake, tables.Folder))
	if err != nil {
		t.Fatal(err)
	}
	if !os.SameFile(made, now) {
		t.Error("tables were made anew though no row has changed")
	}
	must(t, "verify", "--lake", lake)
}
