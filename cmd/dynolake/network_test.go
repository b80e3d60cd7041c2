package main

import (
	"go/parser"
	"go/token"
	"io/fs"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// speaking lists the folders that may speak to a network, each because the user named where to: publish a bucket, fleet a server, serve an address to listen at.
func speaking() []string {
	return []string{"pipeline/publish", "pipeline/publish/store", "pipeline/publish/iceberg", "queries/fleet", "queries/web", "cmd/dynolake/serve.go"}
}

// Nothing but publishing, asking what was published and serving imports what speaks to a network. That the demo runs without one is a step of its own in CI.
func TestNoNetwork(t *testing.T) {
	files := 0
	err := filepath.WalkDir("../..", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
			return err
		}
		rel, err := filepath.Rel("../..", path)
		if err != nil {
			return err
		}
		files++
		f, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.ImportsOnly)
		if err != nil {
			return err
		}
		rel = filepath.ToSlash(rel)
		if slices.Contains(speaking(), rel) || slices.Contains(speaking(), filepath.ToSlash(filepath.Dir(rel))) {
			return nil
		}
		for _, spec := range f.Imports {
			name := strings.Trim(spec.Path.Value, `"`)
			if name == "net" || strings.HasPrefix(name, "net/") && name != "net/url" || strings.Contains(name, "minio") || strings.HasPrefix(name, "google.golang.org/grpc") || name == "golang.org/x/net" {
				t.Errorf("%s imports %s: only publishing, asking a fleet's server and serving speak to a network, where the user names one", rel, name)
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if files < 50 {
		t.Errorf("looked at %d files: the walk is not where it should be", files)
	}
}
