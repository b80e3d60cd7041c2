package main

import (
	"encoding/json"
	"errors"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// Killed by the system at moments over its whole length, a publish into a folder leaves what a reader finds whole, and the
// next one ends the work: the same files as one that nobody disturbed.
func TestPublishSurvivesKills(t *testing.T) {
	lake := demoLakeFolder(t)
	for _, form := range []string{"iceberg", "parquet"} {
		calm, torn := filepath.Join(t.TempDir(), "calm"), filepath.Join(t.TempDir(), "torn")
		begun := time.Now()
		must(t, "publish", calm, "--as", form, "--lake", lake)
		took := time.Since(begun)
		for i := range 3 {
			c := exec.CommandContext(t.Context(), "dynolake", "publish", torn, "--as", form, "--lake", lake)
			c.Stdout, c.Stderr = io.Discard, io.Discard
			if err := c.Start(); err != nil {
				t.Fatal(err)
			}
			time.Sleep(took * time.Duration(i+1) / 4)
			_ = c.Process.Kill() // It may have ended.
			_ = c.Wait()         // It says that it was killed.
			whole(t, torn)
		}
		must(t, "publish", torn, "--as", form, "--lake", lake)
		whole(t, torn)
		want, got := dataFiles(t, calm), dataFiles(t, torn)
		if len(want) < 100 || len(want) != len(got) {
			t.Errorf("--as %s: %d data files after the kills, want %d", form, len(got), len(want))
		}
		for name, size := range want {
			if got[name] != size {
				t.Errorf("--as %s: %s has %d bytes after the kills, want %d", form, name, got[name], size)
			}
		}
	}
}

// whole follows what is published to the files that it names.
func whole(t *testing.T, dest string) {
	t.Helper()
	var plain struct {
		Tables map[string]struct {
			Files []struct {
				Path  string
				Bytes int64
			}
		}
	}
	if load(t, filepath.Join(dest, "manifest.json"), &plain) {
		for _, table := range plain.Tables {
			for _, f := range table.Files {
				if info, err := os.Stat(filepath.Join(dest, f.Path)); err != nil || info.Size() != f.Bytes {
					t.Errorf("the manifest names %s of %d bytes: %v", f.Path, f.Bytes, err)
				}
			}
		}
	}
	hints, err := filepath.Glob(filepath.Join(dest, "*", "metadata", "version-hint.text"))
	if err != nil {
		t.Fatal(err)
	}
	for _, hint := range hints {
		version, err := os.ReadFile(hint)
		if err != nil {
			t.Fatal(err)
		}
		var table struct {
			Snapshots []struct {
				List string `json:"manifest-list"`
			}
		}
		if !load(t, filepath.Join(filepath.Dir(hint), "v"+string(version)+".metadata.json"), &table) || len(table.Snapshots) != 1 {
			t.Errorf("%s names no table with a snapshot", hint)
			continue
		}
		if _, err := os.Stat(strings.TrimPrefix(table.Snapshots[0].List, "file://")); err != nil {
			t.Error(err)
		}
	}
	var pointer struct{ Tables map[string]string }
	if load(t, filepath.Join(dest, "current.json"), &pointer) {
		for _, uri := range pointer.Tables {
			if _, err := os.Stat(strings.TrimPrefix(uri, "file://")); err != nil {
				t.Error(err)
			}
		}
	}
}

// load reads a JSON file that may not be there.
func load(t *testing.T, path string, into any) bool {
	t.Helper()
	text, err := os.ReadFile(path)
	if errors.Is(err, os.ErrNotExist) {
		return false
	}
	if err == nil {
		err = json.Unmarshal(text, into)
	}
	if err != nil {
		t.Errorf("read %s: %v", path, err)
	}
	return err == nil
}

// dataFiles gives the size of each published Parquet file.
func dataFiles(t *testing.T, dest string) map[string]int64 {
	t.Helper()
	sizes := map[string]int64{}
	err := filepath.WalkDir(dest, func(path string, d os.DirEntry, err error) error {
		if err != nil || !strings.HasSuffix(path, ".parquet") {
			return err
		}
		info, err := d.Info()
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(dest, path)
		sizes[rel] = info.Size()
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return sizes
}
