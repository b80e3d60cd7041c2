package result

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"math/big"
	"strings"
	"time"

	"github.com/apache/arrow-go/v18/arrow"
	"github.com/apache/arrow-go/v18/arrow/array"
	"github.com/apache/arrow-go/v18/arrow/decimal128"
	"github.com/apache/arrow-go/v18/arrow/memory"
	"github.com/apache/arrow-go/v18/parquet"
	"github.com/apache/arrow-go/v18/parquet/compress"
	"github.com/apache/arrow-go/v18/parquet/pqarrow"

	"dynolake/schema"
)

// batchRows go to the writer at once, groupRows into a row group.
const (
	batchRows = 8192
	groupRows = 128 << 10
)

// writeParquet prints rows as a Parquet file: instants in microseconds UTC, whole numbers beyond 64 bits as DECIMAL(38,0), lists
// and structures as JSON text. A field whose unit is known carries it as metadata under "unit".
func writeParquet(ctx context.Context, w io.Writer, rows *Rows, o Options) (err error) {
	fields := make([]arrow.Field, len(rows.columns))
	options := []parquet.WriterProperty{parquet.WithCompression(compress.Codecs.Zstd), parquet.WithMaxRowGroupLength(groupRows)}
	for i, name := range distinct(rows.Names()) {
		fields[i] = arrow.Field{Name: name, Type: arrowType(rows.columns[i]), Nullable: true, Metadata: unitOf(rows.columns[i], o)}
		if k := rows.columns[i].Kind; k == Float32 || k == Float64 {
			options = append(options, parquet.WithDictionaryFor(name, false)) // Floats seldom repeat.
		}
	}
	form := arrow.NewSchema(fields, nil)
	out, err := pqarrow.NewFileWriter(form, struct{ io.Writer }{w}, parquet.NewWriterProperties(options...), pqarrow.NewArrowWriterProperties(pqarrow.WithStoreSchema())) // Else the metadata is lost.
	if err != nil {
		return fmt.Errorf("write rows as parquet: %w", err)
	}
	defer func() {
		if err = errors.Join(err, out.Close()); err != nil {
			err = fmt.Errorf("write rows as parquet: %w", err)
		}
	}()
	builder := array.NewRecordBuilder(memory.DefaultAllocator, form)
	defer builder.Release()
	held := 0
	flush := func() error {
		held = 0
		batch := builder.NewRecordBatch()
		defer batch.Release()
		return out.WriteBuffered(batch)
	}
	err = each(ctx, rows, func(row []any) error {
		for i, v := range row {
			if err := appendArrow(builder.Field(i), v); err != nil {
				return fmt.Errorf("column %s: %w", fields[i].Name, err)
			}
		}
		if held++; held == batchRows {
			return flush()
		}
		return nil
	})
	if err == nil && held > 0 {
		err = flush()
	}
	return err
}

// unitOf is the stored unit of a column: as declared, else as the catalogue or its name's ending has it.
func unitOf(c Column, o Options) arrow.Metadata {
	unit := o.Declared[c.Name]
	if known, ok := schema.Lookup(c.Name); ok && unit == "" {
		unit = known.Unit
	}
	numbers := c.Kind == Int || c.Kind == Float32 || c.Kind == Float64 || c.Kind == Decimal
	if m, _, ok := measureOf(c.Name, ""); ok && unit == "" && numbers {
		unit = m.unit
	}
	if unit == "" || unit == "-" {
		return arrow.Metadata{}
	}
	return arrow.NewMetadata([]string{"unit"}, []string{unit})
}

func arrowType(c Column) arrow.DataType {
	switch c.Kind {
	case Bool:
		return arrow.FixedWidthTypes.Boolean
	case Int:
		return arrow.PrimitiveTypes.Int64
	case Big:
		return &arrow.Decimal128Type{Precision: 38}
	case Float32:
		return arrow.PrimitiveTypes.Float32
	case Float64:
		return arrow.PrimitiveTypes.Float64
	case Decimal:
		return &arrow.Decimal128Type{Precision: 38, Scale: int32(c.Scale)}
	case Time:
		return arrow.FixedWidthTypes.Timestamp_us
	case Date:
		return arrow.FixedWidthTypes.Date32
	case Bytes:
		return arrow.BinaryTypes.Binary
	}
	return arrow.BinaryTypes.String
}

// appendArrow puts a value into a column's builder; what is no number becomes NULL.
func appendArrow(b array.Builder, v any) error {
	if v == nil {
		b.AppendNull()
		return nil
	}
	ok := true
	switch b := b.(type) {
	case *array.BooleanBuilder:
		var x bool
		if x, ok = v.(bool); ok {
			b.Append(x)
		}
	case *array.Int64Builder:
		var x int64
		if x, ok = v.(int64); ok {
			b.Append(x)
		}
	case *array.Float32Builder:
		var x float32
		if x, ok = v.(float32); ok {
			appendNumberOrNull(b, b.Append, x, float64(x))
		}
	case *array.Float64Builder:
		var x float64
		if x, ok = v.(float64); ok {
			appendNumberOrNull(b, b.Append, x, x)
		}
	case *array.Decimal128Builder:
		return appendDecimal(b, v)
	case *array.TimestampBuilder:
		var x time.Time
		if x, ok = v.(time.Time); ok {
			b.Append(arrow.Timestamp(x.UnixMicro()))
		}
	case *array.Date32Builder:
		var x Day
		if x, ok = v.(Day); ok {
			b.Append(arrow.Date32FromTime(x.Time))
		}
	case *array.BinaryBuilder:
		var x []byte
		if x, ok = v.([]byte); ok {
			b.Append(x)
		}
	case *array.StringBuilder:
		b.Append(text(v))
	}
	if !ok {
		return fmt.Errorf("a %T is not what a column of %s holds", v, b.Type())
	}
	return nil
}

func text(v any) string {
	if s, ok := v.(string); ok {
		return strings.ToValidUTF8(s, "\ufffd")
	}
	return string(appendJSON(nil, v))
}

func appendNumberOrNull[T float32 | float64](b array.Builder, add func(T), x T, wide float64) {
	if math.IsNaN(wide) || math.IsInf(wide, 0) {
		b.AppendNull()
		return
	}
	add(x)
}

func appendDecimal(b *array.Decimal128Builder, v any) error {
	n, ok := v.(*big.Int)
	if f, fixed := v.(Fixed); fixed {
		n, ok = f.Unscaled, true
	}
	if !ok {
		return fmt.Errorf("a %T is not what a column of %s holds", v, b.Type())
	}
	if len(new(big.Int).Abs(n).String()) > 38 {
		return fmt.Errorf("%s has more than the 38 digits that fit", n)
	}
	b.Append(decimal128.FromBigInt(n))
	return nil
}
