package main

import (
	"context"
	"io"
	"io/fs"
	"path/filepath"
	"testing"

	"dynolake/cmd/dynolake/demo"
	"dynolake/pipeline"
	"dynolake/pipeline/lake"
)

// BenchmarkIngest takes the demo's logs into an empty lake: read, mapped, aligned, derived, segmented, saved and synced.
func BenchmarkIngest(b *testing.B) {
	ctx, folder := context.Background(), b.TempDir()
	if _, err := demo.Write(ctx, folder); err != nil {
		b.Fatal(err)
	}
	size := int64(0)
	err := filepath.WalkDir(filepath.Join(folder, "logs"), func(_ string, d fs.DirEntry, err error) error {
		if info, e := d.Info(); err == nil && e == nil && !d.IsDir() {
			size += info.Size()
		}
		return err
	})
	if err != nil {
		b.Fatal(err)
	}
	recipe, err := pipeline.LoadRecipe(filepath.Join(folder, "config"))
	if err != nil {
		b.Fatal(err)
	}
	b.SetBytes(size)
	rows := int64(0)
	for b.Loop() {
		rows += ingestOnce(b, ctx, recipe, filepath.Join(folder, "logs"))
	}
	b.ReportMetric(float64(rows)/b.Elapsed().Seconds(), "rows/s")
}

func ingestOnce(b *testing.B, ctx context.Context, recipe pipeline.Recipe, logs string) int64 {
	root := filepath.Join(b.TempDir(), "lake")
	if _, err := lake.Init(root, nil); err != nil {
		b.Fatal(err)
	}
	l, err := lake.Open(ctx, root)
	if err != nil {
		b.Fatal(err)
	}
	w, err := l.Write(ctx, "benchmark")
	if err != nil {
		b.Fatal(err)
	}
	done, err := pipeline.Ingest(ctx, l, w, &recipe, []string{logs}, pipeline.Options{})
	if err != nil {
		b.Fatal(err)
	}
	for _, c := range []io.Closer{w, l} {
		if err := c.Close(); err != nil {
			b.Fatal(err)
		}
	}
	return done.Rows
}
