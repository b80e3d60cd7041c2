package demo

import (
	"bytes"
	"errors"
	"time"

	"github.com/apache/arrow-go/v18/arrow"
	"github.com/apache/arrow-go/v18/arrow/array"
	"github.com/apache/arrow-go/v18/arrow/ipc"
	"github.com/apache/arrow-go/v18/arrow/memory"
	"github.com/apache/arrow-go/v18/parquet"
	"github.com/apache/arrow-go/v18/parquet/compress"
	"github.com/apache/arrow-go/v18/parquet/pqarrow"
)

// columns writes a log whose columns lie one behind the other: Parquet or an Arrow file, with instants in nanoseconds and units in
// the fields' metadata.
func (r recorder) columns(sensors []*sensor, t *trace, start time.Time) ([]byte, error) {
	kept := r.tables(sensors, t)[0]
	fields := []arrow.Field{{Name: r.timeName, Type: &arrow.TimestampType{Unit: arrow.Nanosecond, TimeZone: "UTC"}}}
	for _, s := range sensors {
		f := arrow.Field{Name: s.name, Type: arrow.PrimitiveTypes.Float64, Metadata: arrow.MetadataFrom(map[string]string{"unit": s.unit})}
		if s.state() {
			f.Type = arrow.PrimitiveTypes.Int32
		}
		fields = append(fields, f)
	}
	note := arrow.MetadataFrom(map[string]string{"comment": label})
	b := array.NewRecordBuilder(memory.NewGoAllocator(), arrow.NewSchema(fields, &note))
	defer b.Release()
	for i, at := range kept.t {
		b.Field(0).(*array.TimestampBuilder).Append(arrow.Timestamp(instant(start, at).UnixNano()))
		for k := range sensors {
			switch to := b.Field(k + 1).(type) {
			case *array.Int32Builder:
				to.Append(int32(kept.values[k][i]))
			case *array.Float64Builder:
				to.Append(kept.values[k][i])
			}
		}
	}
	rec := b.NewRecordBatch()
	defer rec.Release()
	var out bytes.Buffer
	if r.form == "parquet" {
		err := writeParquet(&out, rec)
		return out.Bytes(), err
	}
	w, err := ipc.NewFileWriter(&out, ipc.WithSchema(rec.Schema()))
	if err != nil {
		return nil, err
	}
	err = errors.Join(w.Write(rec), w.Close())
	return out.Bytes(), err
}

func writeParquet(out *bytes.Buffer, rec arrow.RecordBatch) error {
	how := parquet.NewWriterProperties(parquet.WithCompression(compress.Codecs.Zstd), parquet.WithDictionaryDefault(false))
	w, err := pqarrow.NewFileWriter(rec.Schema(), out, how, pqarrow.NewArrowWriterProperties(pqarrow.WithStoreSchema()))
	if err != nil {
		return err
	}
	return errors.Join(w.Write(rec), w.Close())
}
