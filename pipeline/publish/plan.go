package publish

import (
	"cmp"
	"context"
	"fmt"
	"maps"
	"path"
	"slices"

	"dynolake/pipeline/lake"
	"dynolake/pipeline/publish/store"
)

// piece is a file to be published: one of the lake's, or those rows of one that are of a month.
type piece struct {
	table  string
	name   string // In the store.
	month  string
	from   lake.Live
	owners map[string]int64 // Nil: the whole file.
	rows   int64
}

// pieces lays a table's files out by month under a folder of the store.
func pieces(table, folder string, files []lake.Live) []piece {
	var list []piece
	for _, f := range files {
		for _, month := range slices.Sorted(maps.Keys(f.Months)) {
			p := piece{table: table, month: month, from: f, rows: f.Rows}
			if len(f.Months) > 1 {
				p.owners, p.rows = f.Months[month], 0
				for _, n := range p.owners {
					p.rows += n
				}
			}
			if p.rows == 0 {
				continue
			}
			p.name = path.Join(folder, "month="+month, path.Base(f.Path))
			list = append(list, p)
		}
	}
	slices.SortFunc(list, func(a, b piece) int { return cmp.Compare(a.name, b.name) })
	return list
}

// difference tells which pieces the destination lacks, and which of its files are to go.
func difference[V any](want []piece, have map[string]V) (add []piece, gone []string) {
	names := map[string]bool{}
	for _, p := range want {
		names[p.name] = true
		if _, ok := have[p.name]; !ok {
			add = append(add, p)
		}
	}
	for _, name := range slices.Sorted(maps.Keys(have)) {
		if !names[name] {
			gone = append(gone, name)
		}
	}
	return add, gone
}

// left lists what an interrupted publish stored already, by name.
func (p *publication) left(ctx context.Context, prefix string) (map[string]int64, error) {
	sizes := map[string]int64{}
	for info, err := range p.store.List(ctx, prefix) {
		if err != nil {
			return nil, fmt.Errorf("look for what is there: %w", err)
		}
		sizes[info.Name] = info.Bytes
	}
	return sizes, nil
}

// still makes sure that what was taken over is there yet, right before it is named.
func still(ctx context.Context, s store.Store, taken []string) error {
	for _, name := range taken {
		if _, err := s.Stat(ctx, name); err != nil {
			return fmt.Errorf("look for %s again: %w", name, err)
		}
	}
	return nil
}
