package lake

import (
	"errors"
	"io"
	"iter"
	"strconv"
	"strings"

	"github.com/apache/arrow-go/v18/arrow"
	"github.com/apache/arrow-go/v18/arrow/array"
	"github.com/apache/arrow-go/v18/arrow/memory"
	"github.com/apache/arrow-go/v18/parquet"
	"github.com/apache/arrow-go/v18/parquet/compress"
	"github.com/apache/arrow-go/v18/parquet/pqarrow"

	"dynolake/schema"
)

// groupRows and groupValues bound a row group, and with it the memory that writing and reading take.
const (
	groupRows   = 1 << 16
	groupValues = 1 << 21
)

// sheet is rows of one table that are to become one file.
type sheet struct {
	table   schema.Table
	columns []schema.Column // Those that are written.
	rows    int
	cell    func(i int, column string) any                                      // A cell of a small table.
	array   func(mem memory.Allocator, c schema.Column, lo, hi int) arrow.Array // A stretch of a column, instead of cell.
	names   func(i int) iter.Seq[string]                                        // The columns that a row of a small table fills.
	owner   func(i int) string
	weight  func(i int) int // Values of a row, where it is not one a column.
}

// Write encodes the sheet as Parquet with the given key-value metadata.
func (s sheet) Write(w io.Writer, meta arrow.Metadata) error {
	form := arrow.NewSchema(fields(s.columns), &meta)
	out, err := pqarrow.NewFileWriter(form, unclosed{w}, properties(form, groupRows), pqarrow.DefaultWriterProps())
	if err != nil {
		return err
	}
	for lo := 0; lo < s.rows; {
		hi := s.group(lo)
		if err := s.writeGroup(out, form, lo, hi); err != nil {
			return errors.Join(err, out.Close())
		}
		lo = hi
	}
	return out.Close()
}

func (s sheet) writeGroup(out *pqarrow.FileWriter, form *arrow.Schema, lo, hi int) error {
	columns := make([]arrow.Array, len(s.columns))
	for i, c := range s.columns {
		columns[i] = s.stretch(c, lo, hi)
		defer columns[i].Release()
	}
	record := array.NewRecordBatch(form, columns, int64(hi-lo))
	defer record.Release()
	return out.Write(record)
}

func (s sheet) stretch(c schema.Column, lo, hi int) arrow.Array {
	if s.array != nil {
		return s.array(memory.DefaultAllocator, c, lo, hi)
	}
	return s.cells(memory.DefaultAllocator, c, lo, hi)
}

// cells makes a stretch of a column cell by cell.
func (s sheet) cells(mem memory.Allocator, c schema.Column, lo, hi int) arrow.Array {
	b := array.NewBuilder(mem, arrowType(c))
	defer b.Release()
	b.Reserve(hi - lo)
	for i := lo; i < hi; i++ {
		push(b, s.cell(i, c.Name))
	}
	return b.NewArray()
}

// group says where the row group that begins at lo ends.
func (s sheet) group(lo int) int {
	if s.weight == nil {
		return min(lo+groupRows, s.rows)
	}
	sum := 0
	for i := lo; i < s.rows; i++ {
		if sum += s.weight(i); sum > groupValues && i > lo {
			return i
		}
	}
	return s.rows
}

// unknown finds a name that a row fills and that is no column of the table.
func (s sheet) unknown() (string, bool) {
	known := map[string]bool{}
	for _, c := range s.table.Columns {
		known[c.Name] = true
	}
	for i := range s.rows {
		for name := range s.names(i) {
			if !known[name] {
				return name, true
			}
		}
	}
	return "", false
}

// owners counts the rows of each owner.
func (s sheet) owners() map[string]int64 {
	n := map[string]int64{}
	for i := range s.rows {
		n[s.owner(i)]++
	}
	return n
}

func fields(columns []schema.Column) []arrow.Field {
	list := make([]arrow.Field, len(columns))
	for i, c := range columns {
		list[i] = arrow.Field{Name: c.Name, Type: arrowType(c), Nullable: true, Metadata: fieldID(c.ID)}
	}
	return list
}

func fieldID(id int) arrow.Metadata {
	return arrow.NewMetadata([]string{"PARQUET:field_id"}, []string{strconv.Itoa(id)})
}

func arrowType(c schema.Column) arrow.DataType {
	if kind, ok := strings.CutPrefix(c.Type, "list_"); ok {
		element := arrow.Field{Name: "element", Type: arrowType(schema.Column{Type: kind}), Nullable: true, Metadata: fieldID(c.ID + schema.ElementID)}
		return arrow.ListOfField(element)
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
		return &arrow.TimestampType{Unit: arrow.Microsecond, TimeZone: "UTC"}
	}
	return arrow.BinaryTypes.String
}

// properties chooses encodings: floats split by bytes and never through a dictionary, which makes them larger and slower;
// texts and whole numbers through one. A row group has so many rows at most.
func properties(form *arrow.Schema, rows int64) *parquet.WriterProperties {
	list := []parquet.WriterProperty{
		parquet.WithCompression(compress.Codecs.Zstd), parquet.WithMaxRowGroupLength(rows),
		parquet.WithCreatedBy("dynolake"), parquet.WithDictionaryDefault(true),
	}
	for _, f := range form.Fields() {
		path, kind := f.Name, f.Type
		if l, ok := kind.(*arrow.ListType); ok {
			path, kind = path+".list.element", l.Elem()
		}
		if arrow.IsFloating(kind.ID()) {
			list = append(list, parquet.WithDictionaryFor(path, false), parquet.WithEncodingFor(path, parquet.Encodings.ByteStreamSplit))
		}
	}
	return parquet.NewWriterProperties(list...)
}

// unclosed keeps the Parquet writer from closing the file under it, which is still to be made durable.
type unclosed struct{ io.Writer }
