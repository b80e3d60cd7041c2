package lake

import (
	"cmp"
	"context"
	"database/sql"
	"fmt"
	"maps"
	"math/bits"
	"path"
	"path/filepath"
	"runtime/debug"
	"slices"
)

// Compaction says which small files are to become large ones.
type Compaction struct {
	All    bool  // Every file that is less than half a large one; else only where so many are small that reading them costs more than rewriting.
	Target int64 // Bytes of a large file; 128 MiB when zero.
	Memory int64 // Bytes that the row groups of one merge may take together; 192 MiB when zero. Two files are merged whatever they take.
}

// Compacted says what a compaction did.
type Compacted struct {
	Before, After int   // Files that were merged, and what they became.
	Bytes         int64 // Read to do so.
}

// Files of one table and month are classed by size: a class spans a factor of 1 << classBits, the smallest begins at
// smallest bytes. A class of many files is merged, so that each row is rewritten once a class and no reader meets more than
// many files of a class.
const (
	smallest    = 1 << 16
	classBits   = 3
	many        = 16
	largeTarget = 128 << 20
	largeHeld   = 192 << 20
)

// Compact merges small files of one table and month into large ones, the runs in them ordered by platform, vehicle and start.
// Each group of files is one commit: readers see it before or after, and hold no lock; an interruption loses nothing. Rows,
// runs and findings stay as they are.
func (w *Writer) Compact(ctx context.Context, c Compaction) (Compacted, error) {
	w.commits.Lock()
	defer w.commits.Unlock()
	if c.Target <= 0 {
		c.Target = largeTarget
	}
	if c.Memory <= 0 {
		c.Memory = largeHeld
	}
	defer debug.SetGCPercent(debug.SetGCPercent(garbage))
	var done Compacted
	for {
		groups, err := w.lake.groups(ctx, c)
		if err != nil || len(groups) == 0 {
			return done, err
		}
		order, err := w.lake.runOrder(ctx)
		if err != nil {
			return done, fmt.Errorf("compact: %w", err)
		}
		for _, g := range groups {
			if err := w.merge(ctx, g, order); err != nil {
				return done, fmt.Errorf("compact: %w", err)
			}
			done.Before += len(g)
			done.After++
			for _, f := range g {
				done.Bytes += f.Bytes
			}
		}
	}
}

// groups lists the sets of files that are worth merging now. What a merge leaves can be worth merging again.
func (l *Lake) groups(ctx context.Context, c Compaction) ([][]fileFact, error) {
	type class struct {
		table, month string
		size         int
	}
	classes := map[class][]fileFact{}
	err := query(ctx, l.db, func(r *sql.Rows) error {
		var f fileFact
		if err := r.Scan(&f.Path, &f.Table, &f.Month, &f.Bytes, &f.Rows); err != nil {
			return err
		}
		k := class{table: f.Table, month: f.Month}
		if !c.All {
			k.size = bits.Len64(uint64(f.Bytes/smallest)) / classBits
		}
		classes[k] = append(classes[k], f)
		return nil
	}, `SELECT path, tbl, month, bytes, rows FROM files WHERE removed IS NULL AND 2 * bytes < ? ORDER BY path`, c.Target)
	if err != nil {
		return nil, err
	}
	least := many
	if c.All {
		least = 2
	}
	var groups [][]fileFact
	for _, k := range slices.SortedFunc(maps.Keys(classes), func(a, b class) int {
		return cmp.Or(cmp.Compare(a.table, b.table), cmp.Compare(a.month, b.month), cmp.Compare(a.size, b.size))
	}) {
		if len(classes[k]) >= least {
			groups = append(groups, bundle(classes[k], c)...)
		}
	}
	return groups, nil
}

// bundle splits files into groups of two or more that become no larger than the target, and whose merge holds no more than may be held.
func bundle(files []fileFact, c Compaction) [][]fileFact {
	var groups [][]fileFact
	var group []fileFact
	sum, held := int64(0), int64(0)
	for _, f := range files {
		sum, held = sum+f.Bytes, held+f.held()
		if (sum > c.Target || held > c.Memory) && len(group) > 1 {
			groups, group, sum, held = append(groups, group), nil, f.Bytes, f.held()
		}
		group = append(group, f)
	}
	if len(group) > 1 {
		groups = append(groups, group)
	}
	return groups
}

// held is how many bytes a row group of a file takes in memory, about: numbers up to four times what they take in the file, and the texts of each row, which the
// file has once.
func (f fileFact) held() int64 {
	rows := min(f.Rows, max(groupRows, mergedRows(f.Bytes)))
	return 4*f.Bytes*rows/max(f.Rows, 1) + 64*rows
}

// garbage is how much may lie about beside what a merge holds before it is collected, percent.
const garbage = 50

// merge replaces files by one in a commit of its own.
func (w *Writer) merge(ctx context.Context, files []fileFact, order map[string]int) error {
	s := &saving{saver: w.lake.saver(), lake: w.lake, gone: map[string]bool{}, facts: map[string]ownerFact{}, blobs: map[string]Blob{}}
	return s.store(ctx, func(ctx context.Context) ([]planned, error) {
		first := files[0]
		p := planned{table: first.Table, month: first.Month, owners: map[string]int64{}, facts: map[string]ownerFact{}, large: true}
		m := merged{order: order}
		for _, f := range files {
			full := filepath.Join(s.root, f.Path)
			facts, err := without{path: full}.facts()
			if err != nil {
				return nil, fmt.Errorf("read what %s says of itself: %w", f.Path, err)
			}
			maps.Copy(p.facts, facts)
			for owner, fact := range facts {
				p.owners[owner] += fact.Rows
			}
			p.rows += f.Rows
			m.bytes += f.Bytes
			m.paths = append(m.paths, full)
			s.commit.Replaces = append(s.commit.Replaces, f.Path)
		}
		m.rows = p.rows
		p.sheet = m
		p.path = fmt.Sprintf("%s/%08d-%s.parquet", path.Dir(first.Path), s.commit.Number, s.commit.Name)
		return []planned{p}, nil
	})
}
