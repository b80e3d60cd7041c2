package iceberg

import (
	"context"
	"fmt"
	"strings"
	"time"
)

// Sweep removes what no kept snapshot names and was stored before a moment, and counts it.
func (t *Table) Sweep(ctx context.Context, before time.Time) (removed int, err error) {
	used := map[string]bool{t.hint(): true, t.metadataName(t.version): true}
	for _, e := range t.meta.MetadataLog {
		used[t.name(e.File)] = true
	}
	for _, s := range t.meta.Snapshots {
		used[t.name(s.List)] = true
		list, err := t.readList(ctx, s.List)
		if err != nil {
			return 0, fmt.Errorf("sweep table %s: %w", t.dir, err)
		}
		for _, m := range list {
			used[t.name(m.file.Path)] = true
			for _, e := range m.entries {
				used[t.name(e.Data.Path)] = true
			}
		}
	}
	var old []string
	for info, err := range t.store.List(ctx, t.dir+"/") {
		if err != nil {
			return 0, fmt.Errorf("sweep table %s: %w", t.dir, err)
		}
		if !used[info.Name] && info.At.Before(before) && ours(strings.TrimPrefix(info.Name, t.dir+"/")) {
			old = append(old, info.Name)
		}
	}
	for _, name := range old {
		if err := t.store.Remove(ctx, name); err != nil {
			return removed, fmt.Errorf("sweep table %s: %w", t.dir, err)
		}
		removed++
	}
	return removed, nil
}

// ours tells the files that publishing makes from what somebody else put there.
func ours(name string) bool {
	return strings.HasPrefix(name, "data/month=") && strings.HasSuffix(name, ".parquet") ||
		strings.HasPrefix(name, "metadata/") && (strings.HasSuffix(name, ".avro") || strings.HasSuffix(name, ".metadata.json"))
}
