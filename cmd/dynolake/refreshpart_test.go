package main

import (
	"bytes"
	"context"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"testing"

	"dynolake/cmd/dynolake/demo"
)

// Where few vehicles have new runs, the tables are asked for again of those alone, and come out byte for byte as when they are all made anew.
func TestRefreshOfFewVehicles(t *testing.T) {
	root, more := filepath.Join(t.TempDir(), "lake"), t.TempDir()
	if err := os.CopyFS(root, os.DirFS(demoLakeFolder(t))); err != nil {
		t.Fatal(err)
	}
	if err := demo.Default().WriteRepeat(t.Context(), more, 1000); err != nil {
		t.Fatal(err)
	}
	for _, vehicle := range []string{"invented-car-b", "invented-van-d"} {
		if err := os.CopyFS(filepath.Join(root, "inbox", vehicle), os.DirFS(filepath.Join(more, "logs", vehicle))); err != nil {
			t.Fatal(err)
		}
	}
	var told bytes.Buffer
	if code := run(context.Background(), []string{"dynolake", "refresh", "--lake", root}, io.Discard, &told); code != 0 {
		t.Fatalf("exit %d: %s", code, told.String())
	}
	if said := regexp.MustCompile(`2\d tables computed \(1\d of them for 2 vehicles of 6\)`); !said.MatchString(told.String()) {
		t.Errorf("want %q said, got:\n%s", said, told.String())
	}
	part := contents(t, filepath.Join(root, "tables"))
	for _, gone := range []string{"tables", "reports/refresh.json"} {
		if err := os.RemoveAll(filepath.Join(root, gone)); err != nil {
			t.Fatal(err)
		}
	}
	must(t, "refresh", "--lake", root)
	whole := contents(t, filepath.Join(root, "tables"))
	if len(part) < 40 || len(part) != len(whole) {
		t.Errorf("%d and %d files of tables", len(part), len(whole))
	}
	for name, text := range whole {
		if part[name] != text {
			t.Errorf("%s, made for two vehicles, is another than when it is made whole", name)
		}
	}
}
