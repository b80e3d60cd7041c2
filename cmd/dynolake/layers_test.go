package main

import (
	"go/parser"
	"go/token"
	"io/fs"
	"path/filepath"
	"strings"
	"testing"
)

// may lists, for each layer, what of the project it may import. Imports point one way: cmd, then pipeline and queries, which
// do not know each other, then derive, then schema. A reader knows the schema alone.
var may = []struct {
	folder  string
	imports []string
}{
	{"pipeline/read/readtest", []string{"schema", "pipeline/read"}},
	{"pipeline/read/", []string{"schema"}}, // A form's own folder and what is below it.
	{"pipeline", []string{"schema", "derive", "pipeline"}},
	{"queries", []string{"schema", "derive", "queries"}},
	{"derive", []string{"schema", "derive"}},
	{"schema", nil},
	{"cmd", []string{"schema", "derive", "pipeline", "queries", "cmd"}},
}

// pure layers touch no file, clock or database.
var forbidden = []string{"os", "io/ioutil", "os/exec", "net", "net/http", "database/sql", "path/filepath", "syscall"}

func TestImportsPointOneWay(t *testing.T) {
	root, files := "../..", 0
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
			return err
		}
		rel, err := filepath.Rel(root, path)
		if err != nil {
			return err
		}
		files++
		checkFile(t, path, filepath.ToSlash(rel))
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if files < 50 {
		t.Errorf("looked at %d files: the walk is not where it should be", files)
	}
}

func checkFile(t *testing.T, path, rel string) {
	t.Helper()
	f, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.ImportsOnly)
	if err != nil {
		t.Fatal(err)
	}
	folder := filepath.ToSlash(filepath.Dir(rel))
	for _, spec := range f.Imports {
		name := strings.Trim(spec.Path.Value, `"`)
		if own, ok := strings.CutPrefix(name, "dynolake/"); ok && !allowed(folder, own) {
			t.Errorf("%s imports %s: imports point cmd → pipeline, queries → derive → schema, and a reader knows the schema alone", rel, own)
		}
		if folder == "schema" || strings.HasPrefix(folder, "derive") {
			for _, bad := range forbidden {
				if name == bad {
					t.Errorf("%s imports %s: schema and derive touch no file, clock or database", rel, name)
				}
			}
		}
	}
}

func allowed(folder, imported string) bool {
	for _, layer := range may {
		if !strings.HasPrefix(folder+"/", strings.TrimSuffix(layer.folder, "/")+"/") || (strings.HasSuffix(layer.folder, "/") && folder+"/" == layer.folder) {
			continue
		}
		for _, ok := range layer.imports {
			if imported == ok || strings.HasPrefix(imported, ok+"/") {
				return true
			}
		}
		parts := strings.Split(folder, "/")
		return strings.HasSuffix(layer.folder, "/") && len(parts) > 2 && strings.HasPrefix(imported, strings.Join(parts[:3], "/"))
	}
	return false
}

func TestTheRuleCatchesWrongImports(t *testing.T) {
	for _, c := range []struct {
		folder, imported string
		want             bool
	}{
		{"pipeline/read/delimited", "schema", true}, {"pipeline/read/delimited", "derive", false}, {"pipeline/read/delimited", "pipeline/mapping", false},
		{"pipeline/read/delimited", "pipeline/read/delimited/number", true}, {"pipeline/read", "pipeline/read/delimited", true}, {"queries/engine", "pipeline/lake", false},
		{"pipeline", "queries/engine", false}, {"derive/segment", "derive/stats", true}, {"derive", "pipeline", false}, {"schema", "derive", false}, {"cmd/dynolake", "queries/packs", true},
	} {
		if got := allowed(c.folder, c.imported); got != c.want {
			t.Errorf("%s may import %s: %v, want %v", c.folder, c.imported, got, c.want)
		}
	}
}
