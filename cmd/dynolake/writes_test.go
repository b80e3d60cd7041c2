package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// writes are the calls that change a file system.
var writes = []string{"Create", "CreateTemp", "WriteFile", "OpenFile", "Rename", "Remove", "RemoveAll", "Mkdir", "MkdirAll", "MkdirTemp", "Link", "Symlink", "Chmod", "Chtimes", "Truncate"}

// past lists who may change files past pipeline/disk, and why. A name that ends in / stands for all below it.
var past = map[string]string{
	"pipeline/disk/":                   "is the disk",
	"pipeline/lake/lock.go":            "the lock is a file that is never published",
	"pipeline/lake/catalogue.go":       "tries whether the catalogue can be written",
	"pipeline/read/spool.go":           "temporary files of the system's",
	"pipeline/read/mdf4/spool.go":      "temporary files of the system's",
	"pipeline/read/readtest/":          "serves tests",
	"pipeline/unpack.go":               "temporary files of the system's",
	"pipeline/publish/store/folder.go": "the lock is a file that is never published",
	"pipeline/publish/move.go":         "temporary files of the system's",
	"queries/engine/session.go":        "temporary files of the system's",
	"cmd/dynolake/demo/write.go":       "invents logs, as a recorder would write them",
	"cmd/dynolake/demo.go":             "removes invented logs",
	"cmd/dynolake/demorepeat.go":       "removes invented logs",
}

// What a lake or its user keeps is written through pipeline/disk alone, so that each operation can be made to fail.
func TestWritingGoesThroughTheDisk(t *testing.T) {
	root, used := "../..", map[string]bool{}
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
			return err
		}
		rel, err := filepath.Rel(root, path)
		if err != nil {
			return err
		}
		f, err := parser.ParseFile(token.NewFileSet(), path, nil, 0)
		if err != nil {
			return err
		}
		ast.Inspect(f, func(n ast.Node) bool {
			s, ok := n.(*ast.SelectorExpr)
			if !ok {
				return true
			}
			if x, ok := s.X.(*ast.Ident); !ok || x.Name != "os" || !slices.Contains(writes, s.Sel.Name) {
				return true
			}
			for name := range past {
				if rel == name || strings.HasSuffix(name, "/") && strings.HasPrefix(filepath.ToSlash(rel), name) {
					used[name] = true
					return true
				}
			}
			t.Errorf("%s calls os.%s: write through pipeline/disk", rel, s.Sel.Name)
			return true
		})
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	for name, why := range past {
		if !used[name] {
			t.Errorf("%s may write past the disk (%s) and does not", name, why)
		}
	}
}
