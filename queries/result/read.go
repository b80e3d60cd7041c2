package result

import (
	"context"
	"errors"
	"fmt"
	"io"
	"time"

	"github.com/apache/arrow-go/v18/arrow"
	"github.com/apache/arrow-go/v18/arrow/array"
	"github.com/apache/arrow-go/v18/arrow/memory"
	"github.com/apache/arrow-go/v18/parquet"
	"github.com/apache/arrow-go/v18/parquet/file"
	"github.com/apache/arrow-go/v18/parquet/pqarrow"
)

// ParquetFile is what rows are read back from.
type ParquetFile interface {
	parquet.ReaderAtSeeker
	io.Closer
}

// ReadParquet gives the rows of a file that Write made of rows with these columns. They are the same rows, save that NaN and infinities
// were written as NULL, which every form prints alike. Lists and structures were written as text: with one of those it is an error, as it is
// when the file has other columns. The rows own the file; after an error it is still the caller's.
func ReadParquet(ctx context.Context, f ParquetFile, columns []Column) (*Rows, error) {
	in, err := file.NewParquetReader(f)
	if err != nil {
		return nil, fmt.Errorf("read rows from parquet: %w", err)
	}
	table, err := pqarrow.NewFileReader(in, pqarrow.ArrowReadProperties{BatchSize: batchRows}, memory.DefaultAllocator)
	if err != nil {
		return nil, fmt.Errorf("read rows from parquet: %w", err)
	}
	form, err := table.Schema()
	if err != nil {
		return nil, fmt.Errorf("read rows from parquet: %w", err)
	}
	if form.NumFields() != len(columns) {
		return nil, fmt.Errorf("read rows from parquet: found %d columns, want %d", form.NumFields(), len(columns))
	}
	for i, name := range distinct(New(columns, nil).Names()) {
		field := form.Field(i)
		if columns[i].Kind == Nested || field.Name != name || !arrow.TypeEqual(field.Type, arrowType(columns[i])) {
			return nil, fmt.Errorf("read rows from parquet: column %s of %s is not what %s was written as", field.Name, field.Type, name)
		}
	}
	batches, err := table.GetRecordReader(ctx, nil, nil)
	if err != nil {
		return nil, fmt.Errorf("read rows from parquet: %w", err)
	}
	return New(columns, &stored{file: f, batches: batches, columns: columns}), nil
}

// stored gives the rows of a file.
type stored struct {
	file    io.Closer
	batches pqarrow.RecordReader
	columns []Column
	batch   arrow.RecordBatch // Of batches, until it reads on.
	at      int
}

// Next fills dst with the next row.
func (s *stored) Next(dst []any) error {
	for s.batch == nil || s.at == int(s.batch.NumRows()) {
		batch, err := s.batches.Read()
		if errors.Is(err, io.EOF) {
			return io.EOF
		}
		if err != nil {
			return fmt.Errorf("read rows from parquet: %w", err)
		}
		s.batch, s.at = batch, 0
	}
	for i := range dst {
		dst[i] = s.columns[i].valueAt(s.batch.Column(i), s.at)
	}
	s.at++
	return nil
}

// Close ends the reading.
func (s *stored) Close() error {
	s.batches.Release()
	return s.file.Close()
}

// valueAt is the inverse of appendArrow.
func (c Column) valueAt(a arrow.Array, i int) any {
	if a.IsNull(i) {
		return nil
	}
	switch a := a.(type) {
	case *array.Boolean:
		return a.Value(i)
	case *array.Int64:
		return a.Value(i)
	case *array.Float32:
		return a.Value(i)
	case *array.Float64:
		return a.Value(i)
	case *array.Decimal128:
		n := a.Value(i).BigInt()
		if c.Kind == Decimal {
			return Fixed{n, c.Scale}
		}
		return n
	case *array.Timestamp:
		return time.UnixMicro(int64(a.Value(i))).UTC()
	case *array.Date32:
		return Day{a.Value(i).ToTime()}
	case *array.Binary:
		return append([]byte{}, a.Value(i)...)
	case *array.String:
		return string([]byte(a.Value(i))) // Of its own: the batch's memory is used again.
	}
	return nil
}
