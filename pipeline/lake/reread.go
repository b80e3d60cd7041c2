package lake

import (
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"strings"

	"github.com/parquet-go/parquet-go"

	"dynolake/schema"
)

// reading is what a second implementation of the format finds in a file.
type reading struct {
	footer footer
	sha256 string // Of its bytes, where it was asked for.
	rows   int64
	owners map[string]int64  // Rows by owner, counted.
	counts map[string]int64  // In runs: what a run says of its rows.
	shas   map[string]string // In sources: a source's SHA-256, and a run that it is of.
	faults []string
}

// column keeps the values that reread looks at beyond their validity.
type column struct {
	texts   []string
	numbers []float64
}

// reread opens a file and reads its footer and, unless brief, every value of it.
func reread(path string, brief bool) (r *reading, err error) {
	defer func() {
		if p := recover(); p != nil { // The reader meets damage in places where it does not expect any.
			r, err = nil, fmt.Errorf("read %s: damaged: %v", path, p)
		}
	}()
	in, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, in.Close()) }()
	info, err := in.Stat()
	if err != nil {
		return nil, err
	}
	f, err := parquet.OpenFile(in, info.Size(), parquet.SkipPageIndex(true), parquet.SkipBloomFilters(true))
	if err != nil {
		return nil, fmt.Errorf("read as Parquet: %w", err)
	}
	r = &reading{rows: f.NumRows(), owners: map[string]int64{}, counts: map[string]int64{}, shas: map[string]string{}}
	if r.footer, err = parseFooter(f.Lookup); err != nil || brief {
		return r, err
	}
	r.checkColumns(f)
	for g, group := range f.RowGroups() {
		if err := r.readGroup(f, g, group); err != nil {
			return nil, err
		}
	}
	return r, nil
}

// checkColumns compares the file's columns with the table's.
func (r *reading) checkColumns(f *parquet.File) {
	table, ok := schema.LookupTable(r.footer.Table)
	if !ok {
		r.fault("table %q is none of a lake's", r.footer.Table)
		return
	}
	for _, c := range f.Root().Columns() {
		want, ok := table.Column(c.Name())
		switch {
		case !ok && c.ID() < 10000: // A user's own columns have ids from there on.
			r.fault("column %q is none of table %s", c.Name(), table.Name)
		case ok && c.ID() != want.ID:
			r.fault("column %q has field id %d, want %d", c.Name(), c.ID(), want.ID)
		}
	}
}

func (r *reading) readGroup(f *parquet.File, g int, group parquet.RowGroup) error {
	leaves := f.Schema().Columns()
	kept := map[string]column{}
	for i, chunk := range group.ColumnChunks() {
		name := strings.Join(leaves[i], ".")
		c, err := r.readChunk(name, chunk)
		if err != nil {
			return fmt.Errorf("read row group %d, column %s: %w", g, name, err)
		}
		kept[name] = c
	}
	n := int(group.NumRows())
	text := func(name string, i int) string {
		if list := kept[name].texts; i < len(list) {
			return list[i]
		}
		return ""
	}
	times := kept["t_s"].numbers
	last := ""
	for i := range n {
		owner := ownerOf(text("run_id", i), text("sha256", i))
		r.owners[owner]++
		if i < len(times) && owner == last && times[i] <= times[i-1] {
			r.fault("t_s of run %s does not rise at row %d", owner, i)
		}
		last = owner
		switch r.footer.Table {
		case "runs":
			r.counts[owner] = int64(kept["rows"].numbers[i])
		case "sources":
			r.shas[text("sha256", i)] = owner
		}
	}
	return nil
}

// readChunk reads every value of a column in a row group and keeps those of flat columns that readGroup needs.
func (r *reading) readChunk(name string, chunk parquet.ColumnChunk) (c column, err error) {
	keepText := name == "run_id" || name == "sha256"
	keepNumber := name == "rows" || name == "t_s"
	pages := chunk.Pages()
	defer func() { err = errors.Join(err, pages.Close()) }()
	buffer := make([]parquet.Value, 1024)
	for {
		page, err := pages.ReadPage()
		if errors.Is(err, io.EOF) {
			return c, nil
		}
		if err != nil {
			return c, err
		}
		values := page.Values()
		for {
			n, err := values.ReadValues(buffer)
			for _, v := range buffer[:n] {
				x := number(v)
				if !v.IsNull() && (v.Kind() == parquet.Float || v.Kind() == parquet.Double) && (math.IsNaN(x) || math.IsInf(x, 0)) {
					r.fault("%s holds %v, want NULL or a number", name, x)
				}
				if keepText {
					c.texts = append(c.texts, string(v.ByteArray()))
				}
				if keepNumber {
					c.numbers = append(c.numbers, x)
				}
			}
			if errors.Is(err, io.EOF) {
				break
			}
			if err != nil {
				return c, err
			}
		}
		parquet.Release(page)
	}
}

func number(v parquet.Value) float64 {
	switch v.Kind() {
	case parquet.Float:
		return float64(v.Float())
	case parquet.Double:
		return v.Double()
	case parquet.Int64:
		return float64(v.Int64())
	}
	return 0
}

// fault notes what is wrong with the content, the first few of it.
func (r *reading) fault(format string, args ...any) {
	if len(r.faults) < 5 {
		r.faults = append(r.faults, fmt.Sprintf(format, args...))
	}
}
