package columnar

import (
	"bytes"
	"context"
	"encoding/base64"
	"errors"
	"fmt"
	"io"
	"slices"
	"sync/atomic"

	"github.com/apache/arrow-go/v18/arrow"
	"github.com/apache/arrow-go/v18/arrow/ipc"
	"github.com/apache/arrow-go/v18/arrow/memory"
	"github.com/apache/arrow-go/v18/parquet"
	"github.com/apache/arrow-go/v18/parquet/file"
	"github.com/apache/arrow-go/v18/parquet/pqarrow"
)

// batchRows is how many rows a batch holds at the most.
const batchRows = 4096

// records are the rows of a file, in order.
type records struct {
	form  *arrow.Schema
	most  int64                             // Rows that a batch can have in a file of this size.
	next  func() (arrow.RecordBatch, error) // io.EOF behind the last.
	close func()
}

func open(ctx context.Context, l layout, at io.ReaderAt, size int64) (*records, error) {
	r, err := opened(ctx, l, at, size)
	if err == nil {
		r.most = 1<<20 + 256*size
	}
	return r, err
}

func opened(ctx context.Context, l layout, at io.ReaderAt, size int64) (*records, error) {
	mem := &bounded{Allocator: memory.NewGoAllocator(), most: 64<<20 + 32*size}
	in := io.NewSectionReader(at, 0, size)
	if l == arrowFile || l == arrowStream {
		whole, err := verify(at, size, l == arrowFile)
		if err != nil {
			return nil, fmt.Errorf("read the Arrow metadata: %w", err)
		}
		if l == arrowStream && whole < size { // What the decoder would make room for, whatever it claims to be long, is not shown to it.
			in = io.NewSectionReader(at, 0, min(size, whole+3))
		}
	}
	switch l {
	case parquetFile:
		return openParquet(ctx, in, mem)
	case arrowFile:
		f, err := ipc.NewFileReader(in, ipc.WithAllocator(mem), ipc.WithBodySizeLimit(size), ipc.WithMetadataSizeLimit(size))
		if err != nil {
			return nil, fmt.Errorf("read the Arrow file's footer: %w: the file is cut or damaged", err)
		}
		return &records{form: f.Schema(), next: func() (arrow.RecordBatch, error) { return damaged(f.Read()) }, close: func() { _ = f.Close() }}, nil
	case arrowStream:
		s, err := ipc.NewReader(in, ipc.WithAllocator(mem), ipc.WithBodySizeLimit(size), ipc.WithMetadataSizeLimit(size))
		if err != nil {
			return nil, fmt.Errorf("read the Arrow stream's schema: %w: the file is cut or damaged", err)
		}
		return &records{form: s.Schema(), next: func() (arrow.RecordBatch, error) { return damaged(s.Read()) }, close: s.Release}, nil
	}
	return nil, errors.New("neither Parquet (magic PAR1) nor Arrow IPC (magic ARROW1, or a stream's FF FF FF FF)")
}

func damaged(r arrow.RecordBatch, err error) (arrow.RecordBatch, error) {
	if err != nil && !errors.Is(err, io.EOF) {
		err = fmt.Errorf("read rows: %w: the file is cut or damaged", err)
	}
	return r, err
}

func openParquet(ctx context.Context, in *io.SectionReader, mem memory.Allocator) (*records, error) {
	props := parquet.NewReaderProperties(mem)
	props.BufferedStreamEnabled = true
	f, err := file.NewParquetReader(in, file.WithReadProps(props))
	if err != nil {
		return nil, fmt.Errorf("read the Parquet file's footer: %w: the file is cut or damaged", err)
	}
	if err := kept(f, mem); err != nil {
		return nil, errors.Join(err, f.Close())
	}
	r, err := pqarrow.NewFileReader(f, pqarrow.ArrowReadProperties{BatchSize: batchRows}, mem)
	if err != nil {
		return nil, errors.Join(fmt.Errorf("read the Parquet file's schema: %w", err), f.Close())
	}
	form, err := r.Schema()
	if err != nil {
		return nil, errors.Join(fmt.Errorf("read the Parquet file's schema: %w", err), f.Close())
	}
	group, groups := 0, f.NumRowGroups()
	var rows pqarrow.RecordReader
	end := func() {
		if rows != nil {
			rows.Release()
			rows = nil
		}
	}
	next := func() (arrow.RecordBatch, error) {
		for {
			if rows == nil {
				if group == groups {
					return nil, io.EOF
				}
				if err := errors.Join(pages(f, in, in.Size(), group), tried(f, form, group)); err != nil {
					return damaged(nil, fmt.Errorf("row group %d: %w", group, err))
				}
				if rows, err = r.GetRecordReader(ctx, nil, []int{group}); err != nil {
					return damaged(nil, fmt.Errorf("row group %d: %w", group, err))
				}
				group++
			}
			b, err := rows.Read()
			if !errors.Is(err, io.EOF) {
				return damaged(b, err)
			}
			end()
		}
	}
	return &records{form: form, next: next, close: func() { end(); _ = f.Close() }}, nil
}

// tried reads the first page of each column where there are structures: the decoder opens those in goroutines of its own, in which
// what it panics of cannot be caught.
func tried(f *file.Reader, form *arrow.Schema, group int) error {
	if !slices.ContainsFunc(form.Fields(), func(f arrow.Field) bool { return arrow.IsNested(f.Type.ID()) }) {
		return nil
	}
	rows := f.RowGroup(group)
	for i := range rows.NumColumns() {
		c, err := rows.Column(i)
		if err != nil {
			return err
		}
		if !c.HasNext() && c.Err() != nil {
			return c.Err()
		}
	}
	return nil
}

// kept tries the schema that a writer keeps beside Parquet's own, for the decoder takes it in without a bound.
func kept(f *file.Reader, mem memory.Allocator) error {
	v := f.MetaData().KeyValueMetadata().FindValue("ARROW:schema")
	if v == nil {
		return nil
	}
	data, err := base64.StdEncoding.DecodeString(*v)
	if err == nil {
		var s *ipc.Reader
		whole, err := verify(bytes.NewReader(data), int64(len(data)), false)
		if err == nil && whole < int64(len(data)) {
			err = errCut
		}
		if err != nil {
			return fmt.Errorf("read the schema kept as ARROW:schema: %w", err)
		}
		if s, err = ipc.NewReader(bytes.NewReader(data), ipc.WithAllocator(mem), ipc.WithBodySizeLimit(int64(len(data))), ipc.WithMetadataSizeLimit(int64(len(data)))); err == nil {
			s.Release()
			return nil
		}
	}
	return fmt.Errorf("read the schema kept as ARROW:schema: %w: the file is damaged", err)
}

// bounded is memory of which no more is given than most bytes at a time, whatever a damaged file claims to need.
type bounded struct {
	memory.Allocator
	most int64
	used atomic.Int64
}

func (b *bounded) take(n int) {
	if used := b.used.Add(int64(n)); n < 0 || used > b.most {
		panic(fmt.Sprintf("it claims to need more than %d bytes of memory", b.most))
	}
}

func (b *bounded) Allocate(size int) []byte {
	b.take(size)
	return b.Allocator.Allocate(size)
}

func (b *bounded) Reallocate(size int, p []byte) []byte {
	if grow := size - len(p); grow > 0 {
		b.take(grow)
	} else {
		b.used.Add(int64(grow))
	}
	return b.Allocator.Reallocate(size, p)
}

func (b *bounded) Free(p []byte) {
	b.used.Add(-int64(len(p)))
	b.Allocator.Free(p)
}
