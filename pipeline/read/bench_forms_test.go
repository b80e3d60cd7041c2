package read_test

import (
	"archive/zip"
	"bufio"
	"compress/gzip"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"os"

	"github.com/apache/arrow-go/v18/arrow"
	"github.com/apache/arrow-go/v18/arrow/array"
	"github.com/apache/arrow-go/v18/arrow/ipc"
	"github.com/apache/arrow-go/v18/arrow/memory"
	"github.com/apache/arrow-go/v18/parquet"
	"github.com/apache/arrow-go/v18/parquet/compress"
	"github.com/apache/arrow-go/v18/parquet/pqarrow"
	"github.com/klauspost/compress/zstd"

	export "dynolake/pipeline/export/mdf4"
	"dynolake/schema"
)

// benchForm is one form and how a log of it is written.
type benchForm struct {
	name  string
	write func(path string, size int) error
}

func forms() []benchForm {
	return []benchForm{
		{"delimited", stream(table)},
		{"delimited in gzip", stream(func(w io.Writer, size int) error {
			z := gzip.NewWriter(w)
			return errors.Join(table(z, size), z.Close())
		})},
		{"delimited in zstd", stream(func(w io.Writer, size int) error {
			z, err := zstd.NewWriter(w)
			return errors.Join(err, table(z, size), z.Close())
		})},
		{"delimited in zip", stream(func(w io.Writer, size int) error {
			z := zip.NewWriter(w)
			f, err := z.Create("log.csv")
			return errors.Join(err, table(f, size), z.Close())
		})},
		{"candump", stream(candump)},
		{"workbook", stream(book)},
		{"MDF", stream(plainMDF)},
		{"MDF packed", packedMDF},
		{"Parquet", stream(parquetLog)},
		{"Arrow stream", stream(arrowLog)},
	}
}

func stream(write func(w io.Writer, size int) error) func(string, int) error {
	return func(path string, size int) error {
		f, err := os.Create(path)
		if err != nil {
			return err
		}
		w := bufio.NewWriterSize(f, 1<<20)
		return errors.Join(write(w, size), w.Flush(), f.Close())
	}
}

// candump writes frames of a heavy engine's bus, of diagnosis and of one that nothing knows.
func candump(w io.Writer, size int) error {
	for i := 0; size > 0; i++ {
		t := 1594172461 + float64(i)/2000
		var n int
		var err error
		switch i % 4 {
		case 0:
			n, err = fmt.Fprintf(w, "(%.6f) can1 0CF00400#207D87%02X1400F087\n", t, i/4%256)
		case 1:
			n, err = fmt.Fprintf(w, "(%.6f) can1 18FEF600#FF14%02XFFFF402CFF\n", t, i/4%200)
		case 2:
			n, err = fmt.Fprintf(w, "(%.6f) can0 18FF3300#00000000000000%02X\n", t, i/4%256)
		default:
			n, err = fmt.Fprintf(w, "(%.6f) can0 7E8#04410C%02XF8AAAAAA\n", t, i/4%256)
		}
		if size -= n; err != nil {
			return err
		}
	}
	return nil
}

// book writes a workbook of one sheet, of at most 96 MiB of cells before they are packed to about a sixth: larger ones are not met.
func book(w io.Writer, size int) error {
	z := zip.NewWriter(w)
	const rels = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
	for _, p := range [][2]string{
		{"[Content_Types].xml", `<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"/>`},
		{"_rels/.rels", `<Relationships><Relationship Id="r" Type="` + rels + `/officeDocument" Target="xl/workbook.xml"/></Relationships>`},
		{"xl/_rels/workbook.xml.rels", `<Relationships><Relationship Id="s" Type="` + rels + `/worksheet" Target="worksheets/sheet1.xml"/></Relationships>`},
		{"xl/workbook.xml", `<workbook xmlns:r="` + rels + `"><sheets><sheet name="Pull" sheetId="1" r:id="s"/></sheets></workbook>`},
	} {
		f, err := z.Create(p[0])
		if err == nil {
			_, err = io.WriteString(f, p[1])
		}
		if err != nil {
			return err
		}
	}
	f, err := z.Create("xl/worksheets/sheet1.xml")
	if err != nil {
		return err
	}
	return errors.Join(sheet(bufio.NewWriter(f), min(6*size, 96<<20)), z.Close())
}

func sheet(w *bufio.Writer, size int) error {
	_, err := w.WriteString(`<worksheet><sheetData><row><c t="inlineStr"><is><t>Time [s]</t></is></c>`)
	for c := range benchChannels {
		_, e := fmt.Fprintf(w, `<c t="inlineStr"><is><t>channel %d [kPa]</t></is></c>`, c)
		err = errors.Join(err, e)
	}
	for row := 0; size > 0 && row < 1<<20-2; row++ {
		n, e := fmt.Fprintf(w, `</row><row><c><v>%g</v></c>`, float64(row)/100)
		size -= n
		for c := range benchChannels {
			n, e2 := fmt.Fprintf(w, `<c><v>%v</v></c>`, invented(row, c))
			size, e = size-n, errors.Join(e, e2)
		}
		if err = errors.Join(err, e); err != nil {
			return err
		}
	}
	_, e := w.WriteString(`</row></sheetData></worksheet>`)
	return errors.Join(err, e, w.Flush())
}

// plainMDF writes an MDF file by the bare layout: one group, a time master and channels of floats, records as they are.
func plainMDF(w io.Writer, size int) error {
	const width = 8 * (1 + benchChannels)
	rows := size / width
	le := binary.LittleEndian
	head := append([]byte("MDF     4.10    bench   "), make([]byte, 40)...)
	le.PutUint16(head[28:], 410)
	block := func(id string, data []byte, links ...int) {
		b := append([]byte("##"+id), make([]byte, 20)...)
		le.PutUint64(b[8:], uint64(24+8*len(links)+len(data)))
		le.PutUint64(b[16:], uint64(len(links)))
		for _, l := range links {
			b = le.AppendUint64(b, uint64(l))
		}
		head = append(append(head, b...), data...)
	}
	const dg, cg, cn = 64 + 104, 64 + 104 + 64, 64 + 104 + 64 + 104
	texts := cn + (1+benchChannels)*160
	data := texts + 32
	block("HD", make([]byte, 32), dg, 0, 0, 0, 0, 0)
	block("DG", make([]byte, 8), 0, cg, data, 0)
	group := make([]byte, 32)
	le.PutUint64(group[8:], uint64(rows))
	le.PutUint32(group[24:], width)
	block("CG", group, 0, cn, 0, 0, 0, 0)
	for c := range 1 + benchChannels {
		d := make([]byte, 72)
		d[2] = 4
		if c == 0 {
			d[0], d[1] = 2, 1
		}
		le.PutUint32(d[4:], uint32(8*c))
		le.PutUint32(d[8:], 64)
		next := cn + 160*(c+1)
		if c == benchChannels {
			next = 0
		}
		block("CN", d, next, 0, texts, 0, 0, 0, 0, 0)
	}
	block("TX", append([]byte("channel"), 0))
	head = append(head, []byte("##DT\x00\x00\x00\x00")...)
	head = le.AppendUint64(le.AppendUint64(head, uint64(24+rows*width)), 0)
	if _, err := w.Write(head); err != nil {
		return err
	}
	rec := make([]byte, width)
	for row := range rows {
		le.PutUint64(rec, math.Float64bits(float64(row)/100))
		for c := range benchChannels {
			le.PutUint64(rec[8*(c+1):], math.Float64bits(invented(row, c)))
		}
		if _, err := w.Write(rec); err != nil {
			return err
		}
	}
	return nil
}

// packedMDF writes what export writes, of at most 256 MiB before it is packed: it is held in memory.
func packedMDF(path string, size int) error {
	rows := min(size, 256<<20) / (8 * (1 + benchChannels))
	g := export.Group{Clock: schema.Channel{Name: "t"}, T: make([]float64, rows)}
	for row := range rows {
		g.T[row] = float64(row) / 100
	}
	for c := range benchChannels {
		v := make([]float64, rows)
		for row := range v {
			v[row] = invented(row, c)
		}
		g.Channels = append(g.Channels, export.Channel{Channel: schema.Channel{Name: fmt.Sprint("channel ", c)}, Values: v})
	}
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	return errors.Join(export.Write(f, export.File{Groups: []export.Group{g}}), f.Close())
}

func benchSchema() *arrow.Schema {
	fields := []arrow.Field{{Name: "t_s", Type: arrow.PrimitiveTypes.Float64}}
	for c := range benchChannels {
		fields = append(fields, arrow.Field{Name: fmt.Sprint("channel ", c), Type: arrow.PrimitiveTypes.Float32})
	}
	return arrow.NewSchema(fields, nil)
}

// batches makes records until so many bytes of values are out.
func batches(size int, write func(arrow.RecordBatch) error) error {
	const per = 1 << 16
	for from := 0; size > 0; from, size = from+per, size-per*(8+4*benchChannels) {
		b := array.NewRecordBuilder(memory.DefaultAllocator, benchSchema())
		for row := from; row < from+per; row++ {
			b.Field(0).(*array.Float64Builder).Append(float64(row) / 100)
			for c := range benchChannels {
				b.Field(c + 1).(*array.Float32Builder).Append(float32(invented(row, c)))
			}
		}
		r := b.NewRecordBatch()
		err := write(r)
		r.Release()
		b.Release()
		if err != nil {
			return err
		}
	}
	return nil
}

func parquetLog(w io.Writer, size int) error {
	props := parquet.NewWriterProperties(parquet.WithCompression(compress.Codecs.Zstd), parquet.WithDictionaryDefault(false), parquet.WithMaxRowGroupLength(1<<18))
	pw, err := pqarrow.NewFileWriter(benchSchema(), w, props, pqarrow.DefaultWriterProps())
	if err != nil {
		return err
	}
	return errors.Join(batches(size, pw.Write), pw.Close())
}

func arrowLog(w io.Writer, size int) error {
	aw := ipc.NewWriter(w, ipc.WithSchema(benchSchema()))
	return errors.Join(batches(size, aw.Write), aw.Close())
}
