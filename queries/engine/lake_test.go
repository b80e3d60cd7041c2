package engine

import (
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"github.com/apache/arrow-go/v18/arrow"
	"github.com/apache/arrow-go/v18/arrow/array"
	"github.com/apache/arrow-go/v18/arrow/memory"
	"github.com/apache/arrow-go/v18/parquet"
	"github.com/apache/arrow-go/v18/parquet/compress"
	"github.com/apache/arrow-go/v18/parquet/pqarrow"

	"dynolake/schema"
)

// cells are a table's rows by column; a value is of the column's stored type, a list is []float64 or []string.
type cells map[string][]any

// writeTable writes a Parquet file as the lake does: the columns of schema.Tables that cells has, with their field ids.
func writeTable(t testing.TB, path, table string, data cells) {
	t.Helper()
	def, ok := schema.LookupTable(table)
	if !ok {
		t.Fatalf("no table %s", table)
	}
	var fields []arrow.Field
	for _, c := range def.Columns {
		if _, ok := data[c.Name]; ok {
			fields = append(fields, arrow.Field{Name: c.Name, Type: arrowType(c), Nullable: true, Metadata: fieldID(c.ID)})
		}
	}
	writeArrow(t, path, fields, data)
}

func writeArrow(t testing.TB, path string, fields []arrow.Field, data cells) {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		t.Fatal(err)
	}
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	s := arrow.NewSchema(fields, nil)
	b := array.NewRecordBuilder(memory.DefaultAllocator, s)
	defer b.Release()
	for i, field := range fields {
		for _, v := range data[field.Name] {
			put(t, b.Field(i), v)
		}
	}
	batch := b.NewRecordBatch()
	defer batch.Release()
	w, err := pqarrow.NewFileWriter(s, f, parquet.NewWriterProperties(parquet.WithCompression(compress.Codecs.Zstd), parquet.WithDictionaryDefault(false)), pqarrow.DefaultWriterProps())
	if err != nil {
		t.Fatal(err)
	}
	if err := w.Write(batch); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
}

func put(t testing.TB, b array.Builder, v any) {
	if v == nil {
		b.AppendNull()
		return
	}
	switch b := b.(type) {
	case *array.StringBuilder:
		b.Append(v.(string))
	case *array.Float32Builder:
		b.Append(v.(float32))
	case *array.Float64Builder:
		b.Append(v.(float64))
	case *array.Int32Builder:
		b.Append(v.(int32))
	case *array.Int64Builder:
		b.Append(v.(int64))
	case *array.BooleanBuilder:
		b.Append(v.(bool))
	case *array.TimestampBuilder:
		b.Append(arrow.Timestamp(v.(time.Time).UnixMicro()))
	case *array.ListBuilder:
		b.Append(true)
		for _, e := range v.([]any) {
			put(t, b.ValueBuilder(), e)
		}
	default:
		t.Fatalf("no way to put %T", v)
	}
}

func fieldID(id int) arrow.Metadata {
	return arrow.NewMetadata([]string{"PARQUET:field_id"}, []string{strconv.Itoa(id)})
}

func arrowType(c schema.Column) arrow.DataType {
	element := func(t arrow.DataType) arrow.DataType {
		return arrow.ListOfField(arrow.Field{Name: "element", Type: t, Nullable: true, Metadata: fieldID(c.ID + schema.ElementID)})
	}
	switch c.Type {
	case "float32":
		return arrow.PrimitiveTypes.Float32
	case "float64":
		return arrow.PrimitiveTypes.Float64
	case "int32":
		return arrow.PrimitiveTypes.Int32
	case "int64":
		return arrow.PrimitiveTypes.Int64
	case "bool":
		return arrow.FixedWidthTypes.Boolean
	case "timestamp":
		return arrow.FixedWidthTypes.Timestamp_us
	case "list_float64":
		return element(arrow.PrimitiveTypes.Float64)
	case "list_string":
		return element(arrow.BinaryTypes.String)
	}
	return arrow.BinaryTypes.String
}

func id(n int) string { return fmt.Sprintf("%016x", n) }

// writeRuns makes a lake of n runs with a samples file each, and its snapshot.
func writeRuns(t testing.TB, root string, n, rows int) schema.Snapshot {
	t.Helper()
	snap := schema.Snapshot{ID: 1, Root: root, Files: map[string][]string{}}
	runs := cells{}
	for i := range n {
		runs["run_id"] = append(runs["run_id"], id(i))
		runs["vehicle"] = append(runs["vehicle"], fmt.Sprintf("v%d", i%7))
		runs["rows"] = append(runs["rows"], int64(rows))
		runs["started_at"] = append(runs["started_at"], time.Date(2026, 1, 1+i%28, 8, 0, 0, 0, time.UTC))
		s := cells{}
		for k := range rows {
			s["run_id"] = append(s["run_id"], id(i))
			s["t_s"] = append(s["t_s"], float64(k)/10)
			s["engine_speed_rpm"] = append(s["engine_speed_rpm"], float32(1500+k%2500))
			s["boost_kpa"] = append(s["boost_kpa"], float32(k%200)/1.25)
		}
		file := fmt.Sprintf("samples/month=2026-01/%s-%08x.parquet", id(i), i)
		writeTable(t, filepath.Join(root, file), "samples", s)
		snap.Files["samples"] = append(snap.Files["samples"], file)
	}
	writeTable(t, filepath.Join(root, "runs/a.parquet"), "runs", runs)
	snap.Files["runs"] = []string{"runs/a.parquet"}
	return snap
}

func open(t testing.TB, snap schema.Snapshot, o Options) *Session {
	t.Helper()
	s, err := Open(t.Context(), snap, o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	return s
}
