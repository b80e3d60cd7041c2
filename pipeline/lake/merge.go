package lake

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"

	"github.com/apache/arrow-go/v18/arrow"
	"github.com/apache/arrow-go/v18/arrow/memory"
	"github.com/apache/arrow-go/v18/parquet/file"
	"github.com/apache/arrow-go/v18/parquet/pqarrow"

	"dynolake/schema"
)

// A file of settled bytes or more is merged again only with its like, a few at a time: its row groups are large. Of 3.9 million rows of 90 columns
// groups of 1 << 17 take 2.5 % less room than such of half as many rows (twice as many again: 1.5 % less), and half of the footers that
// every statement reads. A smaller file is one of many in the next merge, which holds a row group of each.
const (
	settled     = largeTarget / 4
	settledRows = 1 << 17
	passingRows = 1 << 15
)

// merged is the rows of several files of one table, ordered by their owner.
type merged struct {
	paths []string
	rows  int64
	bytes int64          // Of all files.
	order map[string]int // Of owners; those that are missing come last, by name.
}

// chapter is a stretch of rows of one owner in one row group of one file.
type chapter struct {
	file, group int
	lo, hi      int
	owner       string
}

// save copies the files row group by row group. A row group stays in memory until its last chapter is written: one of each
// file that is ordered already, all of one that is not.
func (m merged) save(ctx context.Context, out io.Writer, foot footer) error {
	form, columns, err := m.form(foot.Table)
	if err != nil {
		return err
	}
	meta, err := foot.metadata(columns)
	if err != nil {
		return err
	}
	form = arrow.NewSchema(form.Fields(), &meta)
	chapters, err := m.chapters(ctx)
	if err != nil {
		return err
	}
	to, err := pqarrow.NewFileWriter(form, unclosed{out}, properties(form, mergedRows(m.bytes)), pqarrow.DefaultWriterProps())
	if err != nil {
		return err
	}
	b := &binding{paths: m.paths, form: form, to: to, open: map[[2]int][]arrow.RecordBatch{}, left: map[[2]int]int{}}
	defer b.release()
	for _, c := range chapters {
		b.left[[2]int{c.file, c.group}]++
	}
	for _, c := range chapters {
		if err := b.copy(ctx, c); err != nil {
			return errors.Join(err, to.Close())
		}
	}
	if b.rows != m.rows {
		return errors.Join(fmt.Errorf("merge %d files: found %d rows, want %d", len(m.paths), b.rows, m.rows), to.Close())
	}
	return to.Close()
}

// mergedRows is how many rows a row group of a file of so many bytes has at most, where it was merged.
func mergedRows(bytes int64) int64 {
	if bytes < settled {
		return passingRows
	}
	return settledRows
}

// form joins the columns of all files, in the order of the table, those of nobody's last.
func (m merged) form(name string) (*arrow.Schema, []schema.Column, error) {
	table, _ := schema.LookupTable(name)
	rank := map[string]int{}
	for i, c := range table.Columns {
		rank[c.Name] = i
	}
	seen := map[string]arrow.Field{}
	var fields []arrow.Field
	for _, p := range m.paths {
		form, err := arrowForm(p)
		if err != nil {
			return nil, nil, err
		}
		for _, f := range form.Fields() {
			if was, ok := seen[f.Name]; !ok {
				seen[f.Name] = f
				fields = append(fields, f)
			} else if !arrow.TypeEqual(was.Type, f.Type) {
				return nil, nil, fmt.Errorf("merge %s: column %s is %s and %s elsewhere: dynolake reprocess writes both alike", p, f.Name, f.Type, was.Type)
			}
		}
	}
	at := func(f arrow.Field) int {
		if i, ok := rank[f.Name]; ok {
			return i
		}
		return len(rank)
	}
	slices.SortStableFunc(fields, func(a, b arrow.Field) int { return cmp.Or(cmp.Compare(at(a), at(b)), cmp.Compare(a.Name, b.Name)) })
	columns := make([]schema.Column, len(fields))
	for i, f := range fields {
		c, ok := table.Column(f.Name)
		if !ok {
			c.Name = f.Name
		}
		columns[i] = c
	}
	return arrow.NewSchema(fields, nil), columns, nil
}

func arrowForm(path string) (form *arrow.Schema, err error) {
	f, err := file.OpenParquetFile(path, false)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	r, err := pqarrow.NewFileReader(f, pqarrow.ArrowReadProperties{}, memory.DefaultAllocator)
	if err != nil {
		return nil, err
	}
	return r.Schema()
}

// chapters finds whose rows lie where, and orders them.
func (m merged) chapters(ctx context.Context) ([]chapter, error) {
	var list []chapter
	for i, p := range m.paths {
		more, err := chaptersOf(ctx, i, p)
		if err != nil {
			return nil, err
		}
		list = append(list, more...)
	}
	rank := func(owner string) int {
		if n, ok := m.order[owner]; ok {
			return n
		}
		return math.MaxInt
	}
	slices.SortStableFunc(list, func(a, b chapter) int {
		return cmp.Or(cmp.Compare(rank(a.owner), rank(b.owner)), cmp.Compare(a.owner, b.owner))
	})
	return list, nil
}

func chaptersOf(ctx context.Context, i int, path string) ([]chapter, error) {
	var list []chapter
	f, err := file.OpenParquetFile(path, false)
	if err != nil {
		return nil, err
	}
	groups := f.NumRowGroups()
	if err := f.Close(); err != nil {
		return nil, err
	}
	for g := range groups {
		records, err := columnsOf(ctx, path, []int{g}, "run_id", "sha256")
		if err != nil {
			return nil, err
		}
		at := 0
		for _, rec := range records {
			for lo := 0; lo < int(rec.NumRows()); {
				owner, hi := recordOwner(rec, lo), lo+1
				for hi < int(rec.NumRows()) && recordOwner(rec, hi) == owner {
					hi++
				}
				list = append(list, chapter{file: i, group: g, lo: at + lo, hi: at + hi, owner: owner})
				lo = hi
			}
			at += int(rec.NumRows())
		}
		releaseAll(records)
	}
	return list, nil
}
